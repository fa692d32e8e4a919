//! The needle: what a person reads off a gauge.
//!
//! Behind a check valve it is the highest level held: it only climbs. Without one it is the level
//! that the better strokes (or kicks) keep reaching: the median of the better half of their tops.
//! One stroke that was higher than all others does not make it, nor do weak ones spoil it.

use super::{Chance, chances};
use crate::signal::results::Rig;
use crate::signal::tuned::TOPS_KEPT;
use std::ops::Range;

/// The needle after each of these chances, in order, seen or not, of which there are `which`.
pub(crate) fn after_each(chances: &[Chance], rig: Option<Rig>, which: Range<usize>) -> Vec<f64> {
    if rig == Some(Rig::Following) {
        let listed = which.start..which.end.min(chances.len());
        let upto = |n| chances.get(..=n).unwrap_or_default();
        return listed.map(|n| level_of_tops(upto(n))).collect();
    }
    let mut levels = Vec::new();
    let (mut held, mut made) = (0.0_f64, 0);
    for chance in chances {
        held = held.max(chance.level);
        let first = which.start.max(made);
        made += 1 + chance.unseen as usize;
        let after_last = which.end.min(made);
        levels.extend(std::iter::repeat_n(held, after_last.saturating_sub(first)));
    }
    levels
}

/// The needle after each of the last `most` chances.
pub(crate) fn after_latest(chances: &[Chance], rig: Option<Rig>, most: usize) -> Vec<f64> {
    let made = chances::made(chances);
    after_each(chances, rig, made.saturating_sub(most)..made)
}

/// The needle after these.
pub(crate) fn at(chances: &[Chance], rig: Option<Rig>) -> f64 {
    if rig == Some(Rig::Following) {
        level_of_tops(chances)
    } else {
        highest(chances)
    }
}

fn highest(chances: &[Chance]) -> f64 {
    chances
        .iter()
        .map(|chance| chance.level)
        .fold(0.0, f64::max)
}

fn level_of_tops(chances: &[Chance]) -> f64 {
    let mut half = better_half(chances);
    let middle = half.len() / 2;
    if half.is_empty() {
        return 0.0;
    }
    let even = half.len().is_multiple_of(2);
    let (below, upper, _) = half.select_nth_unstable_by(middle, f64::total_cmp);
    if even {
        let lower = below.iter().copied().fold(f64::MIN, f64::max);
        0.5 * (lower + *upper)
    } else {
        *upper
    }
}

/// Tops of the better half of the latest ones, in no order. Which half is better is told by their
/// highest samples: of tops fitted between few samples those that were fitted too high would be
/// picked.
pub(crate) fn better_half(chances: &[Chance]) -> Vec<f64> {
    let latest = chances.len().saturating_sub(TOPS_KEPT);
    let mut tops: Vec<(f64, f64)> = chances
        .iter()
        .skip(latest)
        .map(|chance| (chance.sampled, chance.level))
        .collect();
    let half = tops.len() / 2;
    if tops.len() > 1 {
        tops.select_nth_unstable_by(half, |a, b| a.0.total_cmp(&b.0));
    }
    tops.split_off(half)
        .into_iter()
        .map(|(_, top)| top)
        .collect()
}

#[cfg(test)]
mod tests;
