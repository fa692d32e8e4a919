//! A score: what a cylinder reads of what it should, in per cent, 100 at most.
//!
//! What it should read is the larger of: the lower end of the card's normal range, else what the
//! card predicts; and the highest cylinder in the same condition. So a cylinder within its normal
//! range beside like ones scores 100, and one at nine tenths of the best scores 90. The engine's
//! score is that of its worst cylinder: an engine is as good as that. A score never falls when the
//! cylinder's own reading rises, and never rises when another cylinder's does. The expanded
//! uncertainty (k = 2) is that of the share; it does not shrink where the score stops at 100. Half
//! the scale is the most that is stated.

use super::case::{Case, Entry};
use super::level::{expected_for, limit_factor};
use crate::engine::Condition;
use crate::engine::expected::Basis;
use crate::units::Pressure;

/// A score with its expanded uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Score {
    pub value: f64,
    pub expanded: f64,
}

/// Score of a cylinder; none without a dry reading or anything to hold it against.
pub(super) fn cylinder(case: &Case<'_>, at: usize) -> Option<Score> {
    let condition = case.dry?;
    let own = case.dry_entry(at)?;
    let (reference, relative) = reference(case, condition, at, own)?;
    if reference.pa() <= 0.0 {
        return None;
    }
    let share = own.value / reference;
    let standard = libm::hypot(own.standard / reference, share.max(0.0) * relative);
    Some(scored(share, standard))
}

/// Score of the engine: that of its worst cylinder.
pub(super) fn engine(scores: &[Option<Score>]) -> Option<Score> {
    scores
        .iter()
        .flatten()
        .copied()
        .min_by(|a, b| a.value.total_cmp(&b.value))
}

/// The score of a share with its standard uncertainty.
fn scored(share: f64, standard: f64) -> Score {
    Score {
        value: 100.0 * share.clamp(0.0, 1.0),
        expanded: (200.0 * standard).min(50.0),
    }
}

/// What the reading is held against, and its relative standard uncertainty.
fn reference(
    case: &Case<'_>,
    condition: Condition,
    at: usize,
    own: &Entry<'_>,
) -> Option<(Pressure, f64)> {
    let highest = case
        .of(condition)
        .into_iter()
        .filter(|(other, _)| *other != at)
        .map(|(_, entry)| (entry.value, entry.relative / entry.value))
        .max_by(|a, b| a.0.pa().total_cmp(&b.0.pa()));
    let should = normal(case).or_else(|| {
        let expected = expected_for(case, condition, own)?;
        let usable = expected.basis != Basis::RatioOnly;
        usable.then(|| (expected.likely, expected.standard / expected.likely))
    });
    match (should, highest) {
        (None, None) => None,
        (Some(should), None) => Some(should),
        (None, Some(highest)) => {
            // The cylinder may itself be the best: then it is held against itself.
            let best = if own.value > highest.0 {
                (own.value, 0.0)
            } else {
                highest
            };
            Some(best)
        }
        (Some(should), Some(highest)) => Some(if should.0 >= highest.0 {
            should
        } else {
            highest
        }),
    }
}

/// The lower end of the card's normal range as it stands here.
fn normal(case: &Case<'_>) -> Option<(Pressure, f64)> {
    let limits = case.card?.limits.as_ref()?;
    let lowest = limits.normal_low.or(limits.normal_high)?;
    let air = case.ambient.standard / case.ambient.absolute;
    Some((lowest * limit_factor(case), air))
}
