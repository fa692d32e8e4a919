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
