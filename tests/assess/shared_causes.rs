//! What all readings share is looked for only where even the best is low: both sides of that; and the crank
//! speeds that readings are told with and brought to.

use crate::support::{REFERENCE, Session, card, psi, run};
use needlerest::assess::{Assessment, CauseKind, CorrectionKind};
use needlerest::engine::Condition::{ColdDry, WarmDry};
use needlerest::engine::JobCard;
use needlerest::units::{Pressure, Rate, Time};

fn four(card: &JobCard, value: Pressure, expanded: f64, per_minute: f64) -> Assessment {
    let result = run(value, psi(expanded), Some(per_minute / 120.0));
    (1..=4)
        .fold(Session::default(), |session, at| {
            session.add(&at.to_string(), ColdDry, result.clone())
        })
        .assessed(Some(card))
}

fn shared(assessment: &Assessment) -> Vec<CauseKind> {
    let causes = assessment.cylinders.iter().flat_map(|c| &c.causes);
    causes
        .map(|cause| cause.kind)
        .filter(|kind| kind.is_shared())
        .collect()
}

/// The best must lie below what is expected by more than the doubt of both: 5 % of a normal distribution lies
/// beyond 1.645 standard deviations (JCGM 100, table G.2 with p = 90 %, two-sided). The expectation's is a
/// quarter of its band (k = 2); a reading's own, and 3 % by which sound cylinders differ, count beside it.
#[test]
fn what_all_share_is_looked_for_where_the_best_is_low() {
    let card = card(4, REFERENCE);
    for expanded in [2.0, 12.0] {
        let at = |share: f64, should: Pressure| four(&card, should * share, expanded, 250.0);
        let expected = at(1.0, psi(150.0)).expected.remove(0);
        let first = (0..250)
            .map(|n| 1.0 - 0.002 * f64::from(n))
            .find(|share| !shared(&at(*share, expected.likely)).is_empty())
            .expect("told at last");
        let own = psi(expanded) * 0.5 / (expected.likely * first);
        let band = (expected.high - expected.low) * 0.25 / expected.likely;
        let doubt = (own * own + 0.03 * 0.03 + band * band).sqrt();
        let steps = -libm::log(first) / doubt;
        assert!(
            (steps - 1.645).abs() < 0.06,
            "± {expanded} psi: {first}, {steps}"
        );
    }
}

/// Turned slower than 150 a minute, and low beside what the usual speed would give: then the speed is among what
/// may be. Readings that are not low, or not slow, do not tell of it.
#[test]
fn slow_cranking_is_looked_for_where_it_is_slow_and_low() {
    let card = card(4, REFERENCE);
    let told = |share: f64, per_minute: f64| {
        let usual = four(&card, psi(150.0), 2.0, 220.0)
            .expected
            .remove(0)
            .likely;
        let assessment = four(&card, usual * share, 2.0, per_minute);
        shared(&assessment).contains(&CauseKind::SlowCranking)
    };
    assert!(told(0.86, 148.0));
    assert!(!told(0.86, 152.0), "not slow");
    assert!(!told(0.99, 148.0), "not low");
}

/// The speed of a run in bursts is the middle one of those that belong together: strokes no further apart than
/// a fast one's 1 / 0.6, none faster than twice the usual.
#[test]
fn the_speed_of_bursts_is_that_of_strokes_that_belong_together() {
    let card = card(1, &REFERENCE.replace("electric", "kick"));
    let crank = |per_minute: &[f64]| {
        let mut result = run(psi(150.0), psi(2.0), Some(1.0));
        let known = per_minute.iter().map(|rpm| Some(Time::from_s(120.0 / rpm)));
        let intervals = std::iter::once(None).chain(known);
        for (stroke, interval) in result.strokes.iter_mut().zip(intervals) {
            stroke.interval = interval;
        }
        let assessment = Session::default()
            .add("1", ColdDry, result)
            .assessed(Some(&card));
        let crank: Option<Rate> = assessment.cylinders[0].readings[0].crank;
        crank.map(|crank| crank.per_min().round())
    };
    assert_eq!(crank(&[300.0, 310.0, 320.0, 330.0, 340.0]), Some(320.0));
    // Pauses are none of it: slower than 0.6 of the fastest.
    assert_eq!(
        crank(&[340.0, 20.0, 210.0, 25.0, 320.0, 200.0]),
        Some(320.0)
    );
    assert_eq!(crank(&[]), None);
}

/// Readings of one condition are brought to the speed in the middle: the one turned so is not changed for its
/// speed, the slower gains and the faster loses.
#[test]
fn readings_are_brought_to_the_common_speed() {
    let card = card(3, REFERENCE);
    let session =
        [150.0, 200.0, 260.0]
            .iter()
            .zip(1..)
            .fold(Session::default(), |session, (rpm, at)| {
                session.add(
                    &at.to_string(),
                    WarmDry,
                    run(psi(150.0), psi(2.0), Some(rpm / 120.0)),
                )
            });
    let assessment = session.assessed(Some(&card));
    let factor = |at: usize| {
        let corrected = assessment.cylinders[at].readings[0].corrected.as_ref();
        let parts = corrected
            .map(|corrected| corrected.parts.as_slice())
            .unwrap_or_default();
        parts
            .iter()
            .find(|part| part.kind == CorrectionKind::Cadence)
            .map(|part| part.factor)
    };
    assert!(
        factor(0).is_some_and(|factor| factor > 1.005),
        "{:?}",
        factor(0)
    );
    assert_eq!(factor(1), None);
    assert!(
        factor(2).is_some_and(|factor| factor < 0.995),
        "{:?}",
        factor(2)
    );
}
