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

/// Without a card the best cylinder is the reference: the share of it, in per cent.
#[test]
fn the_documented_formula() {
    let assessment = Session::default()
        .with(WarmDry, &[150.0, 105.0, 60.0, 40.0], 1.0)
        .assessed(None);
    let expected = [100.0, 70.0, 40.0, 100.0 * 40.0 / 150.0];
    for (cylinder, expected) in assessment.cylinders.iter().zip(expected) {
        assert!(
            (cylinder.score.unwrap() - expected).abs() < 1e-9,
            "{}",
            cylinder.name
        );
    }
    assert!((assessment.score.unwrap() - 100.0 * 40.0 / 150.0).abs() < 1e-9);
    // ± 1 psi of 150 on its own reading and, times the share of 0.7, on the best one's.
    let middle = assessment.cylinders[1].score_expanded.unwrap();
    let share = libm::hypot(1.0 / 150.0, 0.7 / 150.0);
    assert!((middle - 100.0 * share).abs() < 1e-9, "{middle}");
}

/// A cylinder within the card's normal range beside like ones has nothing left to wish for, and one
/// at nine tenths of it scores 90.
#[test]
fn within_the_normal_range_is_full_marks() {
    let limits = "[limits]\nnormal_low = \"120 psi\"\nnormal_high = \"150 psi\"\n\
                  [site]\naltitude_m = 0.0\n";
    let score = |reading: f64| {
        let session = Session::default().with(WarmDry, &[reading], 1.0);
        session.assessed(Some(&card(1, limits))).score.unwrap()
    };
    assert_eq!(score(121.0), 100.0);
    assert!((score(108.0) - 90.0).abs() < 1e-9);
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

/// A normal range printed for sea level is met by less where the air is thinner: at 2000 m by 78.5 % (International
/// Standard Atmosphere, 794.95 hPa), with the doubt of that air; a score is no more than full marks.
#[test]
fn the_normal_range_goes_with_the_air() {
    let scored = |reading: f64, altitude: f64, range: &str| {
        let card = card(
            1,
            &format!("[limits]\n{range}\n[site]\naltitude_m = {altitude}\n"),
        );
        let assessment = Session::default()
            .with(WarmDry, &[reading], 2.0)
            .assessed(Some(&card));
        (
            assessment.cylinders[0].score.unwrap(),
            assessment.cylinders[0].score_expanded.unwrap(),
        )
    };
    let low = "normal_low = \"150 psi\"\nnormal_high = \"180 psi\"";
    let (sea, sea_expanded) = scored(100.0, 0.0, low);
    assert!((sea - 100.0 / 1.5).abs() < 0.01, "{sea}");
    let (high, _) = scored(100.0, 2000.0, low);
    assert!((high - 100.0 / 1.5 / 0.7846).abs() < 0.05, "{high}");
    assert_eq!(scored(160.0, 0.0, low).0, 100.0);
    // The reading's own ± 2 psi are ± 1.33 of 150; what is not known of the air comes on top.
    assert!((1.33..6.0).contains(&sea_expanded), "{sea_expanded}");
    let (sharp, blunt) = (scored(75.0, 0.0, low).1, scored(150.0, 0.0, low).1);
    let own = 100.0 * 2.0 / 150.0;
    let air = |expanded: f64| (expanded * expanded - own * own).sqrt();
    assert!(
        (air(blunt) / air(sharp) - 2.0).abs() < 1e-6,
        "the air's doubt goes with the share"
    );
}
