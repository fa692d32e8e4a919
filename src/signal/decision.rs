//! The stop decision: is what is left to climb under the tolerance, and the plateau known to within
//! the tolerance?

use super::build_up::Prospect;

/// A stroke count below which nothing is ever called settled.
pub(super) const FEWEST: u32 = 3;
/// How many standard uncertainties must fit under the tolerance. One-sided error of a single look
/// under a normal law: 0.9 %.
const SURE: f64 = 2.35;

/// The same where two like strokes of a starter are enough: their scatter is hardly known, and the
/// uncertainty already widened for that.
const SURE_OF_TWO: f64 = 2.0;
/// Strokes are uneven when their scatter alone takes up this share of the tolerance.
const MOSTLY: f64 = 0.6;
/// Nobody makes more strokes than this.
const MOST: f64 = 100.0;

/// What a look at the strokes says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Look {
    pub(super) settled: bool,
    /// What may at most be left to climb.
    pub(super) left_at_most: f64,
    /// About how many strokes more settle it.
    pub(super) strokes_missing: Option<u32>,
}

/// Looks at the strokes after each one. `steady`: standard uncertainty that more strokes do not
/// take away (zero, sample rate). `usable`: nothing (clipping, too slow a sample rate)
/// forbids a call.
pub(super) fn look(
    prospect: &Prospect,
    steady: f64,
    strokes: u32,
    fewest: u32,
    tolerance: f64,
    usable: bool,
) -> Look {
    let sure = if strokes < FEWEST { SURE_OF_TWO } else { SURE };
    let doubt = sure * libm::hypot(prospect.standard, steady);
    let left = prospect.left.abs();
    let left_at_most = left + doubt;
    let settled = usable && strokes >= fewest && left <= tolerance && doubt <= tolerance;
    Look {
        settled,
        left_at_most,
        strokes_missing: if settled {
            None
        } else {
            missing(prospect, strokes, (left, doubt), tolerance)
        },
    }
}

/// Whether a doubt that more strokes do not take away leaves little of the tolerance.
pub(super) fn limits(steady: f64, tolerance: f64) -> bool {
    SURE * steady > 0.6 * tolerance
}

/// How many strokes as uneven as these make their level known to within the tolerance; none where
/// something else keeps it from being known.
pub(super) fn needed(prospect: &Prospect, strokes: u32, tolerance: f64) -> Option<u32> {
    let uneven = SURE * prospect.standard > tolerance && prospect.left.abs() <= tolerance;
    let mostly_scatter = SURE * prospect.scatter > MOSTLY * tolerance * f64::from(strokes).sqrt();
    (uneven && mostly_scatter && strokes >= FEWEST)
        .then(|| by_counting(prospect, strokes, SURE * prospect.standard, tolerance))
        .flatten()
}

/// The doubt about a mean goes down with the square root of the count.
fn by_counting(prospect: &Prospect, strokes: u32, doubt: f64, tolerance: f64) -> Option<u32> {
    let times = doubt / tolerance;
    let needed = (f64::from(strokes) * times * times).ceil().min(MOST);
    (prospect.scatter > 0.0 && needed.is_finite()).then_some(needed as u32)
}

/// What is left shrinks by the ratio with every stroke, and so does the doubt about it; once
/// little is left, the scatter of the strokes is what keeps their level from being known.
fn missing(
    prospect: &Prospect,
    strokes: u32,
    (left, doubt): (f64, f64),
    tolerance: f64,
) -> Option<u32> {
    if let Some(needed) = needed(prospect, strokes, tolerance) {
        return Some(needed.saturating_sub(strokes).max(1));
    }
    let left = left.max(doubt);
    let least = FEWEST.saturating_sub(strokes).max(1);
    let ratio = prospect.ratio + prospect.ratio_standard;
    if !(tolerance > 0.0 && left.is_finite()) || ratio >= 0.99 {
        return None;
    }
    if left <= tolerance {
        return Some(least);
    }
    let steps = libm::log(tolerance / left) / libm::log(ratio.max(0.05));
    Some((steps.ceil() as u32).clamp(least, 99))
}
