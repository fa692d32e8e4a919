//! What oil did, at the speeds of the two runs, and beside others that were oiled as well.

use crate::support::{REFERENCE, Session, card, psi, run};
use needlerest::assess::{Assessment, CauseKind, Sign};
use needlerest::engine::Condition::{ColdDry, Wet};
use needlerest::engine::JobCard;
use needlerest::signal::{Outcome, RunResult};

fn at(reading: f64, per_minute: f64) -> RunResult {
    run(psi(reading), psi(2.0), Some(per_minute / 120.0))
}

fn causes(assessment: &Assessment, at: usize) -> Vec<(CauseKind, f64)> {
    let causes = assessment.cylinders[at].causes.iter();
    causes
        .map(|cause| (cause.kind, cause.probability))
        .collect()
}

fn probability(assessment: &Assessment, at: usize, kind: CauseKind) -> f64 {
    let all = causes(assessment, at);
    all.iter()
        .find(|(of, _)| *of == kind)
        .map_or(0.0, |(_, p)| *p)
}

/// Two of a row, the second low and wetted at another speed.
fn wetted(card: &JobCard, dry: f64, wet: (f64, f64)) -> Assessment {
    Session::default()
        .add("1", ColdDry, at(165.0, dry))
        .add("2", ColdDry, at(110.0, dry))
        .add("2", Wet, at(wet.0, wet.1))
        .assessed(Some(card))
}

/// Between two kicks the speed is surer than what a few strokes tell: which of the two was the faster does not
/// matter. Of a starter it does: what was turned faster reads more without any oil.
#[test]
fn kicks_are_held_at_one_speed() {
    let kicked = card(2, &REFERENCE.replace("electric", "kick"));
    let (one, other) = (
        wetted(&kicked, 380.0, (125.0, 420.0)),
        wetted(&kicked, 420.0, (125.0, 380.0)),
    );
    // The dry reading's own expectation goes with its speed; a little of that is left.
    let rings = |of: &Assessment| probability(of, 1, CauseKind::Rings);
    assert!(
        (rings(&one) - rings(&other)).abs() < 0.1,
        "{} {}",
        rings(&one),
        rings(&other)
    );
    let starter = card(2, REFERENCE);
    let (faster, slower) = (
        wetted(&starter, 150.0, (125.0, 300.0)),
        wetted(&starter, 300.0, (125.0, 150.0)),
    );
    assert!(
        rings(&slower) > rings(&faster) + 0.1,
        "{} {}",
        rings(&slower),
        rings(&faster)
    );
}

/// A card that does not say how much oil is put in means as much as a visit asks for: a tenth of the chamber.
#[test]
fn as_much_oil_as_is_asked_for_is_assumed() {
    let silent = card(2, REFERENCE);
    // 500 cm³ at 10:1 leave 55.6 cm³.
    let dose = needlerest::engine::oil::most_cm3(Some(
        86.0 * 86.0 * 86.1 * core::f64::consts::PI / 4e3 / 9.0,
    ));
    let told = |cm3: f64| card(2, &format!("{REFERENCE}[tester]\nwet_oil_cm3 = {cm3}\n"));
    let of = |card: &JobCard| causes(&wetted(card, 250.0, (122.0, 250.0)), 1);
    let (assumed, said) = (of(&silent), of(&told(dose)));
    assert_eq!(assumed.len(), said.len());
    for (ours, theirs) in assumed.iter().zip(&said) {
        assert!(
            ours.0 == theirs.0 && (ours.1 - theirs.1).abs() < 1e-6,
            "{assumed:?} {said:?}"
        );
    }
    assert_ne!(
        assumed,
        of(&told(0.2 * dose)),
        "a fifth of it explains less"
    );
}

/// Where healthy cylinders rose with oil as well, a low one that rose no more than they has no leaking rings: by one
/// of them or by the middle one of three.
#[test]
fn a_rise_is_held_against_those_of_others() {
    let card = card(5, REFERENCE);
    let valve = |controls: &[f64]| {
        let mut session = Session::default();
        for (cylinder, reading) in ["1", "2", "3", "4", "5"]
            .iter()
            .zip([220.0, 140.0, 221.0, 219.0, 220.0])
        {
            session = session.add(cylinder, ColdDry, at(reading, 250.0));
        }
        session = session.add("2", Wet, at(140.0 * 1.15, 250.0));
        for (cylinder, (dry, rise)) in ["1", "4", "5"]
            .iter()
            .zip([220.0, 219.0, 220.0].into_iter().zip(controls))
        {
            session = session.add(cylinder, Wet, at(dry * rise, 250.0));
        }
        let assessment = session.assessed(Some(&card));
        probability(&assessment, 1, CauseKind::Valve)
    };
    let (without, one, three) = (valve(&[]), valve(&[1.25]), valve(&[1.25, 1.25, 1.25]));
    assert!(
        one > without + 0.1 && three > without + 0.1,
        "{without} {one} {three}"
    );
    // One that did not rise, or rose far more, is not the middle one.
    for odd in [1.05, 1.5] {
        let with_odd = valve(&[1.25, odd, 1.25]);
        assert!((with_odd - three).abs() < 0.1, "{three} {with_odd}");
    }
}

/// A climb that was cut short is taken half way to where it was heading: 100 psi towards 120 beside 150.
#[test]
fn a_climb_that_was_cut_short_counts_half_way() {
    let share = |heading: Option<f64>| {
        let mut cut = at(100.0, 250.0);
        if let Some(heading) = heading {
            cut.outcome = Outcome::StillClimbing;
            cut.reading.as_mut().unwrap().heading = Some(psi(heading));
        }
        let assessment = Session::default()
            .add("1", ColdDry, at(150.0, 250.0))
            .add("2", ColdDry, cut)
            .assessed(None);
        let signs = assessment.cylinders[1]
            .causes
            .iter()
            .flat_map(|c| &c.evidence_for);
        let mut shares = signs.filter_map(|evidence| match evidence.sign {
            Sign::OfOthers { share, .. } => Some(share),
            _ => None,
        });
        shares.next().expect("told beside the other")
    };
    assert!((share(None) - 100.0 / 150.0).abs() < 1e-9);
    assert!((share(Some(120.0)) - 110.0 / 150.0).abs() < 1e-9);
    assert!(
        (share(Some(90.0)) - 100.0 / 150.0).abs() < 1e-9,
        "it does not fall"
    );
}
