//! What the needle would read if the same person did the same again.

use super::call::Look;
use crate::signal::build_up::chances::Chances;
use crate::signal::build_up::{Turned, needle};
use crate::signal::results::Rig;
use crate::signal::tuned::{REPEAT, REPEAT_BY_HAND, REPEAT_IN_KICKS, REPEAT_TOPS};

/// Its standard uncertainty.
pub(super) fn standard(look: &Look, chances: &Chances, rig: Option<Rig>) -> f64 {
    let at = look.needle;
    // Somebody who stops a little sooner or later: what the last chances lifted it by.
    let left = if look.settled || look.rests {
        0.5 * look.rise + (look.climb.plateau - at)
    } else {
        0.0
    };
    let own = REPEAT * at;
    let differ = match (chances.turned, rig) {
        (Turned::ByStarter, Some(Rig::Following)) => tops(chances),
        (_, Some(Rig::Following)) => REPEAT_TOPS * tops(chances),
        (Turned::InKicks, _) => {
            REPEAT_IN_KICKS.0 * at + REPEAT_IN_KICKS.1 * late_rise(chances, rig)
        }
        (Turned::ByHand, _) => REPEAT_BY_HAND.0 * at + REPEAT_BY_HAND.1 * late_rise(chances, rig),
        (Turned::ByStarter, _) => 0.0,
    };
    let left = if rig == Some(Rig::Following) {
        0.0
    } else {
        left
    };
    (left * left + own * own + differ * differ).sqrt()
}

/// The largest rise after the third chance: how far they differ.
fn late_rise(chances: &Chances, rig: Option<Rig>) -> f64 {
    let levels = needle::after_each(&chances.seen, rig, 0..usize::MAX);
    let late = levels.windows(2).skip(2).map(|pair| pair[1] - pair[0]);
    late.fold(0.0, f64::max)
}

/// Standard uncertainty of the median of the better half of the tops.
fn tops(chances: &Chances) -> f64 {
    let half = needle::better_half(&chances.seen);
    let n = half.len() as f64;
    let mean = half.iter().sum::<f64>() / n.max(1.0);
    let squares: f64 = half.iter().map(|top| (top - mean) * (top - mean)).sum();
    // Of two tops the spread is hardly known.
    (squares / (n - 1.0).max(1.0)).sqrt() / n.max(1.0).sqrt() * (1.0 + 2.0 / n)
}

#[cfg(test)]
mod tests;
