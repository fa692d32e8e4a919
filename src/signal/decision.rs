//! The stop decision: is what is left to climb under the tolerance, and the plateau known to within
//! the tolerance?

use super::build_up::Prospect;
use super::bursts::Turned;
use super::results::Rig;

/// A stroke count below which nothing is ever called settled.
pub(super) const FEWEST: u32 = 3;
/// How many standard uncertainties must fit under the tolerance behind a check valve, where a
/// starter turns the engine. One-sided error of a single look under a normal law: 0.9 %.
const SURE: f64 = 2.35;
/// Without a check valve a starter's strokes are all alike; error of a look 3.6 %.
const SURE_OF_PEAKS: f64 = 1.8;
/// Where a person turns it, the first few strokes may agree by chance; error of a look 0.5 %.
const SURE_BY_HAND: f64 = 2.6;
/// Where two like strokes of a starter are enough: their scatter is hardly known, and the
/// uncertainty already widened for that.
const SURE_OF_TWO: f64 = 2.0;
/// Strokes are uneven when their scatter alone takes up this share of the tolerance.
const MOSTLY: f64 = 0.6;
/// Nobody makes more strokes than this.
const MOST: f64 = 100.0;

/// What a call has to pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bar {
    /// What may be left to climb, and how far the plateau may be off.
    pub(super) tolerance: f64,
    /// How many standard uncertainties must fit under the tolerance.
    pub(super) sure: f64,
    /// The fewest strokes that will do.
    pub(super) fewest: u32,
}

/// How sure a call must be, in standard uncertainties.
pub(super) fn sure(turned: Turned, rig: Option<Rig>, strokes: u32) -> f64 {
    match turned {
        _ if strokes < FEWEST => SURE_OF_TWO,
        Turned::ByStarter if rig == Some(Rig::Following) => SURE_OF_PEAKS,
        Turned::ByStarter => SURE,
        Turned::ByHand | Turned::InBursts => SURE_BY_HAND,
    }
}

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
    bar: &Bar,
    usable: bool,
) -> Look {
    let tolerance = bar.tolerance;
    let doubt = bar.sure * libm::hypot(prospect.standard, steady);
    let left = prospect.left.abs();
    let left_at_most = left + doubt;
    let settled = usable && strokes >= bar.fewest && left <= tolerance && doubt <= tolerance;
    Look {
        settled,
        left_at_most,
        strokes_missing: if settled {
            None
        } else {
            missing(prospect, strokes, (left, doubt), bar)
        },
    }
}

/// Whether a doubt that more strokes do not take away leaves little of the tolerance.
pub(super) fn limits(steady: f64, bar: &Bar) -> bool {
    bar.sure * steady > 0.6 * bar.tolerance
}

/// How many strokes as uneven as these make their level known to within the tolerance; none where
/// something else keeps it from being known.
pub(super) fn needed(prospect: &Prospect, strokes: u32, bar: &Bar) -> Option<u32> {
    let Bar {
        tolerance, sure, ..
    } = *bar;
    let uneven = sure * prospect.standard > tolerance && prospect.left.abs() <= tolerance;
    let mostly_scatter = sure * prospect.scatter > MOSTLY * tolerance * f64::from(strokes).sqrt();
    (uneven && mostly_scatter && strokes >= FEWEST)
        .then(|| by_counting(prospect, strokes, sure * prospect.standard, tolerance))
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
fn missing(prospect: &Prospect, strokes: u32, (left, doubt): (f64, f64), bar: &Bar) -> Option<u32> {
    let tolerance = bar.tolerance;
    if let Some(needed) = needed(prospect, strokes, bar) {
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
