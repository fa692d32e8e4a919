//! Cranking speed from the spacing of strokes.

use super::results::Cadence;
use crate::units::Rate;

/// An interval this many times the median is a pause, …
const PAUSE_TIMES: f64 = 3.0;
/// … if it is also longer than this (s).
pub(super) const PAUSE_LEAST_S: f64 = 1.0;

/// How long nobody must have cranked to call it a pause, given the usual interval.
pub(super) fn pause_after(usual: Option<f64>) -> f64 {
    usual.map_or(2.0 * PAUSE_LEAST_S, |usual| {
        (PAUSE_TIMES * usual).max(PAUSE_LEAST_S)
    })
}

/// The median of some values; none of none. Sorts them.
pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let upper = *values.get(values.len() / 2)?;
    if values.len() % 2 == 1 {
        return Some(upper);
    }
    let lower = *values.get(values.len() / 2 - 1)?;
    Some(0.5 * (lower + upper))
}

/// Cadence of the strokes at these times (s, in order); none from fewer than two.
pub(super) fn cadence(times: &[f64]) -> Option<Cadence> {
    let mut intervals: Vec<f64> = times
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .filter(|interval| *interval > 0.0)
        .collect();
    let all = median(&mut intervals)?;
    let longest = pause_after(Some(all));
    let pauses = intervals
        .iter()
        .filter(|interval| **interval > longest)
        .count();
    intervals.retain(|interval| *interval <= longest);
    let usual = median(&mut intervals)?;
    let (shortest, slowest) = (*intervals.first()?, *intervals.last()?);
    let mut off: Vec<f64> = intervals
        .iter()
        .map(|interval| (interval - usual).abs())
        .collect();
    let unevenness = median(&mut off)? / usual;
    Some(Cadence {
        median: Rate::from_hz(1.0 / usual),
        slowest: Rate::from_hz(1.0 / slowest),
        fastest: Rate::from_hz(1.0 / shortest),
        unevenness,
        pauses: u32::try_from(pauses).unwrap_or(u32::MAX),
    })
}
