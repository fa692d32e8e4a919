//! The score: its formula, and what it must never do.

use crate::support::{REFERENCE, Session, card};
use needlerest::engine::Condition::WarmDry;
use proptest::prelude::*;

fn scores(readings: &[f64]) -> (f64, Vec<f64>) {
    let card = card(readings.len(), REFERENCE);
    let assessment = Session::default()
        .with(WarmDry, readings, 3.0)
        .assessed(Some(&card));
    let cylinders = assessment
        .cylinders
        .iter()
        .map(|c| c.score.unwrap())
        .collect();
    (assessment.score.unwrap(), cylinders)
}

/// Without a card the best cylinder is the reference: 100·(share − 0.4)/(0.95 − 0.4).
#[test]
fn the_documented_formula() {
    let assessment = Session::default()
        .with(WarmDry, &[150.0, 105.0, 60.0, 40.0], 1.0)
        .assessed(None);
    let expected = [100.0, 100.0 * (0.7 - 0.4) / 0.55, 0.0, 0.0];
    for (cylinder, expected) in assessment.cylinders.iter().zip(expected) {
        assert!(
            (cylinder.score.unwrap() - expected).abs() < 1e-9,
            "{}",
            cylinder.name
        );
    }
    assert_eq!(assessment.score, Some(0.0));
    // ± 1 psi of 150 on its own reading and, times the share of 0.7, on the best one's.
    let middle = assessment.cylinders[1].score_expanded.unwrap();
    let share = libm::hypot(1.0 / 150.0, 0.7 / 150.0);
    assert!((middle - 100.0 * share / 0.55).abs() < 1e-9, "{middle}");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    #[test]
    fn a_higher_reading_never_scores_less(
        mut readings in prop::collection::vec(20.0..260.0_f64, 1..5),
        more in 0.0..60.0_f64,
        pick in any::<prop::sample::Index>(),
    ) {
        let at = pick.index(readings.len());
        let (_, before) = scores(&readings);
        readings[at] += more;
        let (_, after) = scores(&readings);
        prop_assert!(after[at] >= before[at] - 1e-9);
        for other in (0..readings.len()).filter(|n| *n != at) {
            prop_assert!(after[other] <= before[other] + 1e-9);
        }
    }

    #[test]
    fn the_engine_is_as_good_as_its_worst_cylinder(
        readings in prop::collection::vec(20.0..260.0_f64, 1..6),
    ) {
        let (engine, cylinders) = scores(&readings);
        prop_assert_eq!(engine, cylinders.into_iter().fold(f64::INFINITY, f64::min));
    }

    #[test]
    fn a_better_known_reading_has_a_better_known_score(
        reading in 80.0..160.0_f64, expanded in 1.0..10.0_f64,
    ) {
        let of = |expanded| {
            let session = Session::default().with(WarmDry, &[180.0, reading], expanded);
            session.assessed(None).cylinders[1].score_expanded.unwrap()
        };
        prop_assert!(of(expanded) <= of(expanded * 2.0) + 1e-9);
    }
}
