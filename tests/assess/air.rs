//! A leak-down test beside cranking: what is heard tells causes apart, and two leaks are held against
//! each other. Readings, losses and places are made here.

use crate::support::{REFERENCE, Session, card, psi, run, says};
use needlerest::assess::{Assessment, CauseKind, RuleSet, Sign, ValveSide, assess_with_air};
use needlerest::engine::Condition::{self, ColdDry};
use needlerest::engine::JobCard;
use needlerest::leakdown::{
    AirTest, DecayResult, Filled, Held, Leak, Place, Plateau, Restrictor, Sides, Stage,
};
use needlerest::units::{Pressure, Time};

/// 80 psi in and so many held behind 1.0 mm, and where it was heard.
fn leak_down(cylinder: &str, held_psi: f64, heard: &[Place]) -> AirTest {
    let restrictor: Restrictor = "1.0 mm".parse().expect("a restrictor");
    let sides = Sides {
        supply: psi(80.0),
        supply_standard: psi(0.5),
        cylinder: psi(held_psi),
        cylinder_standard: psi(0.2),
        ambient_absolute: Pressure::ATMOSPHERE,
    };
    let plateau = Plateau {
        level: psi(held_psi),
        standard: psi(0.2),
        called_after: Time::from_s(3.0),
        stood: Time::from_s(4.0),
    };
    AirTest::LeakDown {
        cylinder: cylinder.to_owned(),
        condition: Condition::ColdDry,
        restrictor,
        supply: vec![plateau],
        held: vec![Held {
            stage: Stage::Top,
            supply: psi(80.0),
            plateau,
            loss: sides.loss(),
            loss_expanded: 2.0 * sides.loss_standard(),
            leak: Leak::between(&sides, &restrictor, ColdDry),
            rounds: 0,
        }],
        heard: heard.to_vec(),
        flags: Vec::new(),
    }
}

/// Four of a row; the second reads 65 % of what it should.
fn assessed(air: &[AirTest]) -> Assessment {
    shares([0.98, 0.65, 0.98, 0.98], air)
}

fn shares(shares: [f64; 4], air: &[AirTest]) -> Assessment {
    let card = card(4, REFERENCE);
    let hz = Some(2.0);
    let probe = Session::default().add("1", ColdDry, run(psi(100.0), psi(2.0), hz));
    let should = probe.assessed(Some(&card)).expected[0].likely;
    let mut session = Session::default();
    for (at, share) in shares.into_iter().enumerate() {
        let name = (at + 1).to_string();
        session = session.add(&name, ColdDry, run(should * share, psi(2.0), hz));
    }
    assess_with_air(Some(&card), &session.inputs(), air, &RuleSet::default()).said(card.display)
}

/// Where the air is heard is what leaks (from memory; common practice): AC 43.13-1B, paragraph 8-14,
/// listens at exhaust, intake and breather; makers' manuals at the coolant and the next cylinder.
#[test]
fn where_it_is_heard_leads() {
    let cases = [
        (Place::Intake, CauseKind::Valve, Some(ValveSide::Intake)),
        (Place::Exhaust, CauseKind::Valve, Some(ValveSide::Exhaust)),
        (Place::Breather, CauseKind::Rings, None),
    ];
    for (place, kind, valve) in cases {
        let found = assessed(&[leak_down("2", 40.0, &[place])]);
        let leading = &found.cylinders[1].causes[0];
        assert_eq!((leading.kind, leading.valve), (kind, valve), "{place:?}");
        assert!(
            leading.probability > 0.9,
            "{place:?}: {}",
            leading.probability
        );
        let heard = |sign: &Sign| matches!(sign, Sign::Heard { places, .. } if places == &[place]);
        assert!(leading.evidence_for.iter().any(|one| heard(&one.sign)));
        let looks_the_same = "A leaking intake valve and a leaking exhaust valve look the same";
        assert!(!says(&found.cannot_tell, looks_the_same));
        assert!(!says(&found.next_steps, "Confirm by a leak-down test"));
    }
    let unheard = assessed(&[leak_down("2", 40.0, &[])]);
    assert_eq!(unheard.cylinders[1].causes[0].kind, CauseKind::RingsOrValve);
    assert!(says(&unheard.next_steps, "Confirm by a leak-down test"));
}

#[test]
fn two_neighbours_heard_at_each_others_hole_are_the_gasket() {
    let heard = [Place::NextHole];
    let air = [leak_down("2", 40.0, &heard), leak_down("3", 40.0, &heard)];
    let found = shares([0.98, 0.65, 0.66, 0.98], &air);
    for at in [1, 2] {
        assert_eq!(found.cylinders[at].causes[0].kind, CauseKind::Gasket);
    }
}

/// A two-stroke has no valves: what is heard at its carburettor has come past the rings into the
/// crankcase, or past its skirt to the exhaust port; no valve is named (from memory; common practice).
#[test]
fn of_a_two_stroke_no_valve_is_heard() {
    let text = "format = \"needlerest-card\"\nversion = 1\n[engine]\nlabel = \"Otter\"\n\
                cycle = \"two-stroke\"\nbore_mm = 40.0\nstroke_mm = 38.0\n\
                compression_ratio = 9.0\ncloses_deg_abdc = 80.0\nstart = \"pull-cord\"\n\
                cooling = \"air\"\n[[cylinder]]\nname = \"1\"\n[[cylinder]]\nname = \"2\"\n";
    let card = JobCard::parse(text).expect("a card");
    assert_eq!(
        Place::of(Some(&card)),
        [
            Place::Intake,
            Place::Exhaust,
            Place::NextHole,
            Place::Nowhere
        ]
    );
    let hz = Some(8.0);
    let probe = Session::default().add("1", ColdDry, run(psi(100.0), psi(2.0), hz));
    let should = probe.assessed(Some(&card)).expected[0].likely;
    for place in [Place::Intake, Place::Exhaust] {
        let mut session = Session::default();
        for (name, share) in [("1", 1.0), ("2", 0.65)] {
            session = session.add(name, ColdDry, run(should * share, psi(2.0), hz));
        }
        let air = [leak_down("2", 40.0, &[place])];
        let found = assess_with_air(Some(&card), &session.inputs(), &air, &RuleSet::default());
        let causes = &found.cylinders[1].causes;
        assert_eq!(causes[0].kind, CauseKind::Rings, "{place:?}");
        assert!(causes[0].probability > 0.9, "{place:?}: {causes:?}");
        assert!(causes.iter().all(|cause| cause.kind != CauseKind::Valve));
    }
}

/// A healthy cylinder hisses a little at the breather: that makes no leak of it.
#[test]
fn a_hiss_at_the_breather_condemns_nobody() {
    let found = assessed(&[leak_down("1", 76.0, &[Place::Breather])]);
    assert_eq!(found.cylinders[0].causes[0].kind, CauseKind::Healthy);
}

/// The leak by cranking is worked out from the stroke; the leak-down test is made to agree with it,
/// and then not to.
#[test]
fn two_leaks_agree_or_it_is_said_what_may_be_behind_it() {
    let beside = |held: f64| {
        let found = assessed(&[leak_down("2", held, &[])]);
        found.cylinders[1].leak_down.clone().expect("beside")
    };
    let cranked = beside(60.0).cranked.expect("geometry").mm2;
    // The pressure held that gives that leak, by bisection.
    let (mut low, mut high) = (1.0, 79.9);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if beside(middle).leak.expect("held").mm2 > cranked {
            low = middle;
        } else {
            high = middle;
        }
    }
    let same = beside(low);
    assert_eq!(same.agrees, Some(true), "{}", same.text);
    assert!(same.text.ends_with("they agree."), "{}", same.text);
    let tight = beside(79.5);
    assert_eq!(tight.agrees, Some(false));
    assert!(
        tight.text.contains("only while the engine turns"),
        "{}",
        tight.text
    );
    let open = beside(3.0);
    assert_eq!(open.agrees, Some(false));
    assert!(
        open.text.contains("only while the engine stands"),
        "{}",
        open.text
    );
}

fn tester(to_psi: f64, seconds: f64) -> AirTest {
    AirTest::Decay {
        filled: Filled::Tester,
        cylinder: None,
        volume_cm3: None,
        result: Some(DecayResult {
            from: psi(100.0),
            to: psi(to_psi),
            watched: Time::from_s(seconds),
            time_constant: None,
            rate_expanded: 0.1,
            leak: None,
        }),
        flags: Vec::new(),
    }
}

/// All low alike: the tester is suspect, unless it was measured and held.
#[test]
fn a_tester_that_was_measured_tight_is_not_blamed() {
    let low = [0.75, 0.76, 0.75, 0.76];
    let blamed = |air: &[AirTest]| {
        let found = shares(low, air);
        let causes = found.cylinders.into_iter().flat_map(|c| c.causes);
        causes
            .filter(|cause| cause.kind == CauseKind::TesterLeak)
            .map(|cause| cause.probability)
            .fold(0.0, f64::max)
    };
    assert!(blamed(&[]) > 0.05);
    assert!(blamed(&[tester(99.5, 20.0)]) < 1e-9);
    assert!(blamed(&[tester(80.0, 20.0)]) > blamed(&[]));
    // Too short to tell.
    assert!((blamed(&[tester(99.5, 5.0)]) - blamed(&[])).abs() < 1e-12);
}
