//! The stop decision: is what is left to climb under the tolerance, and the plateau known to within
//! the tolerance?

use super::build_up::Prospect;

/// A stroke count below which nothing is ever called settled.
pub(super) const FEWEST: u32 = 3;
/// How many standard uncertainties must fit under the tolerance. One-sided error of a single look
/// under a normal law: 0.9 %.
const SURE: f64 = 2.35;

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
    tolerance: f64,
    usable: bool,
) -> Look {
    let doubt = SURE * libm::hypot(prospect.standard, steady);
    let left = prospect.left.abs();
    let left_at_most = left + doubt;
    let settled = usable && strokes >= FEWEST && left <= tolerance && doubt <= tolerance;
    Look {
        settled,
        left_at_most,
        strokes_missing: if settled {
            None
        } else {
            missing(prospect, strokes, left.max(doubt), tolerance)
        },
    }
}

/// Whether a doubt that more strokes do not take away leaves little of the tolerance.
pub(super) fn limits(steady: f64, tolerance: f64) -> bool {
    SURE * steady > 0.6 * tolerance
}

/// What is left shrinks by the ratio with every stroke, and so does the doubt about it.
fn missing(prospect: &Prospect, strokes: u32, left: f64, tolerance: f64) -> Option<u32> {
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
