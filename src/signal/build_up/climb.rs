//! Where a climbing needle leads to.
//!
//! Each stroke lifts the needle by a share of what was left: the level after it, plotted over the
//! level before it, lies on a straight line, and the needle comes to rest where that line meets
//! equality (the construction of E. Ford, *Fisheries* 1933, and L. A. Walford, *Biol. Bull.* 90
//! (1946) 141–147, for growth; from memory). Gas of a stroke mixing with what the tester holds does
//! the same. The line is fitted by weighted least squares, the latest strokes first.

use crate::signal::tuned::{FADE, STEEPEST};

/// What the line says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Climb {
    /// What is left after a stroke, as a share of what was left before it (0 to 1).
    pub(crate) ratio: f64,
    /// Standard uncertainty of [`Self::ratio`], from how the levels scatter about the line.
    pub(crate) ratio_standard: f64,
    /// Where the line leads to; never below the last level.
    pub(crate) plateau: f64,
}

impl Climb {
    /// Fits the line to levels in order, from the level 0 before the first; `doubt` is the standard
    /// uncertainty of a level. None of no levels.
    pub(crate) fn of(levels: &[f64], before: f64, doubt: f64) -> Option<Self> {
        let last = *levels.last()?;
        let mut sums = Sums::default();
        let mut weight = 1.0;
        for k in (0..levels.len()).rev() {
            let found = if k == 0 { before } else { levels[k - 1] };
            sums.add(found, levels[k], weight);
            weight *= FADE;
        }
        let (x, y) = (sums.x / sums.weight, sums.y / sums.weight);
        let xx = sums.xx / sums.weight - x * x;
        let xy = sums.xy / sums.weight - x * y;
        let yy = sums.yy / sums.weight - y * y;
        // Levels that differ by no more than their doubt show no ratio: towards none.
        let spread = xx + doubt * doubt;
        let ratio = if spread > 0.0 {
            (xy / spread).clamp(0.0, STEEPEST)
        } else {
            0.0
        };
        let off = (yy - ratio * xy).max(doubt * doubt);
        let strokes = levels.len() as f64;
        let free = (strokes - 2.0).max(1.0);
        Some(Self {
            ratio,
            ratio_standard: if spread > 0.0 {
                (off / (spread * free)).sqrt().min(1.0)
            } else {
                1.0
            },
            plateau: ((y - ratio * x) / (1.0 - ratio)).max(last),
        })
    }
}

#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    weight: f64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

impl Sums {
    fn add(&mut self, x: f64, y: f64, weight: f64) {
        self.weight += weight;
        self.x += weight * x;
        self.y += weight * y;
        self.xx += weight * x * x;
        self.xy += weight * x * y;
        self.yy += weight * y * y;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::outside::{Noise, alike, kept, mean_and_rms};
    use serde::Deserialize;

    #[derive(Deserialize)]
    struct Fixture {
        cases: Vec<Case>,
    }

    #[derive(Deserialize)]
    struct Case {
        name: String,
        level: Vec<f64>,
        ratio: f64,
        plateau: f64,
    }

    /// `fixtures/signal/make.py`: NumPy's `polyfit` with the same weights.
    #[test]
    fn the_line_is_that_of_numpy() {
        let fixture = include_str!("../../../fixtures/signal/lines.json");
        let fixture: Fixture = serde_json::from_str(fixture).unwrap();
        assert!(!fixture.cases.is_empty());
        for case in fixture.cases {
            let climb = Climb::of(&case.level, 0.0, 0.0).unwrap();
            let name = &case.name;
            assert!((climb.ratio - case.ratio).abs() < 1e-9, "{name}: {climb:?}");
            let last = case.level.last().copied().unwrap();
            let plateau = case.plateau.max(last);
            assert!(
                (climb.plateau / plateau - 1.0).abs() < 1e-9,
                "{name}: {climb:?}"
            );
        }
    }

    /// `fixtures/signal/arithmetic.py`: NumPy's least squares, where levels are doubtful with the row that
    /// makes it a ridge regression; the uncertainty of the slope as `polyfit` gives it.
    #[test]
    fn the_line_and_its_doubt_are_those_of_least_squares() {
        for case in kept().climbs {
            let climb = Climb::of(&case.level, case.before, case.doubt).unwrap();
            alike(climb.ratio, case.ratio, 1e-7, &case.name);
            alike(climb.ratio_standard, case.ratio_standard, 1e-6, &case.name);
            let last = case.level.last().copied().unwrap();
            alike(climb.plateau, case.meets.max(last), 1e-8, &case.name);
        }
    }

    /// Levels that jump ahead ever faster: by hand, with the steepest line through the mean of the two
    /// (weights 0.6 and 1). Those that fall lead to their mean, or to the last where that is higher.
    #[test]
    fn the_line_is_neither_too_steep_nor_falling() {
        let climb = Climb::of(&[100.0, 250.0], 0.0, 0.0).unwrap();
        assert!((climb.ratio - STEEPEST).abs() < 1e-12);
        let (x, y) = (100.0 / 1.6, (60.0 + 250.0) / 1.6);
        assert!((climb.plateau - (y - STEEPEST * x) / (1.0 - STEEPEST)).abs() < 1e-6);
        let climb = Climb::of(&[200.0, 100.0, 150.0], 50.0, 0.0).unwrap();
        assert!(climb.ratio.abs() < 1e-12);
        let mean = (0.36 * 200.0 + 0.6 * 100.0 + 150.0) / 1.96;
        assert!((climb.plateau - f64::max(mean, 150.0)).abs() < 1e-9);
        let climb = Climb::of(&[400.0, 100.0, 120.0], 50.0, 0.0).unwrap();
        let mean = (0.36 * 400.0 + 0.6 * 100.0 + 120.0) / 1.96;
        assert!(
            mean > 150.0 && (climb.plateau - mean).abs() < 1e-9,
            "{climb:?}"
        );
    }

    /// One level shows no ratio at all; of two the doubt is all that is known of their scatter, and a
    /// ratio is never more doubtful than by all of it.
    #[test]
    fn of_one_or_two_levels_little_is_known() {
        let one = Climb::of(&[100.0], 0.0, 0.0).unwrap();
        assert_eq!(
            (one.ratio, one.ratio_standard, one.plateau),
            (0.0, 1.0, 100.0)
        );
        let doubtful = Climb::of(&[100.0], 0.0, 5.0).unwrap();
        assert_eq!((doubtful.ratio, doubtful.ratio_standard), (0.0, 1.0));
        // Found levels 0 and 90 with weights 0.6 and 1: variance 0.6 / 2.56 · 90².
        let two = Climb::of(&[90.0, 126.0], 0.0, 3.0).unwrap();
        let spread = 0.6 / 2.56 * 8100.0 + 9.0;
        alike(two.ratio, 0.6 / 2.56 * 90.0 * 36.0 / spread, 1e-9, "ratio");
        let left = 0.6 / 2.56 * 36.0 * 36.0 - two.ratio * 0.6 / 2.56 * 90.0 * 36.0;
        alike(
            two.ratio_standard,
            (left.max(9.0) / spread).sqrt(),
            1e-9,
            "its doubt",
        );
    }

    /// A needle that climbs along a line, with noise upon it, far larger than which the climb is: what the
    /// line says of its ratio scatters about the truth as Student's t does where early levels scatter more,
    /// as their weights say (of seven degrees of freedom: sqrt(7 / 5) = 1.18); where all scatter alike it
    /// scatters less than is stated.
    #[test]
    fn the_ratio_is_known_as_well_as_it_says() {
        let (plateau, truth) = (1.4e6, 0.5);
        let scatter = |noise: fn(i32) -> f64, seed| {
            let mut source = Noise(seed);
            let off = |_| {
                let mut level: f64 = 0.0;
                let levels: Vec<f64> = (0..9)
                    .map(|k| {
                        level = plateau - truth * (plateau - level) + noise(k) * source.normal();
                        level
                    })
                    .collect();
                let climb = Climb::of(&levels, 0.0, 0.0).unwrap();
                (climb.ratio - truth) / climb.ratio_standard
            };
            mean_and_rms(&(0..2000).map(off).collect::<Vec<_>>())
        };
        let (mean, rms) = scatter(|k| 200.0 * libm::pow(FADE, -0.5 * f64::from(8 - k)), 77);
        assert!(
            mean.abs() < 0.1 && (rms / 1.183 - 1.0).abs() < 0.1,
            "{mean} {rms}"
        );
        let (mean, rms) = scatter(|_| 1500.0, 78);
        assert!(
            mean.abs() < 0.1 && (0.5..1.0).contains(&rms),
            "{mean} {rms}"
        );
    }

    /// Aitken's delta-squared (DLMF 3.9(iii)) is exact for a geometric sequence; so is the line.
    #[test]
    fn geometric_sequences_lead_where_aitken_says() {
        for (levels, limit, ratio) in [
            ([90.0_f64, 126.0, 140.4, 146.16], 150.0, 0.4),
            ([100.0, 130.0, 139.0, 141.7], 142.857_142_857, 0.3),
        ] {
            let (first, second) = (levels[2] - levels[1], levels[3] - levels[2]);
            assert!((levels[3] - second * second / (second - first) - limit).abs() < 1e-9);
            let climb = Climb::of(&levels, 0.0, 0.0).unwrap();
            assert!((climb.plateau - limit).abs() < 1e-8, "{climb:?}");
            assert!((climb.ratio - ratio).abs() < 1e-9, "{climb:?}");
        }
    }

    /// Levels that do not differ by more than their doubt lead nowhere else; those that grow faster
    /// and faster lead no further than the steepest line.
    #[test]
    fn what_approaches_nothing_stays_in_bounds() {
        let flat = Climb::of(&[150.0, 150.2, 149.9, 150.1], 150.0, 0.3).unwrap();
        assert!((flat.plateau - 150.1).abs() < 0.3, "{flat:?}");
        let growing = Climb::of(&[100.0, 110.0, 125.0, 150.0, 190.0], 95.0, 0.0).unwrap();
        assert!(
            growing.ratio <= STEEPEST && growing.plateau.is_finite(),
            "{growing:?}"
        );
        assert_eq!(Climb::of(&[], 0.0, 1.0), None);
    }
}
