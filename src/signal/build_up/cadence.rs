//! Cranking speed from the spacing of strokes.

use super::{Made, Turned};
use crate::signal::results::Cadence;
use crate::signal::tuned::KICK_OVER_S;
use crate::units::{Rate, median};

/// An interval this many times the median is a pause, …
const PAUSE_TIMES: f64 = 3.0;
/// … if it is also longer than this (s).
pub(crate) const PAUSE_LEAST_S: f64 = 1.0;

/// How long nobody must have cranked to call it a pause, given the usual interval.
pub(crate) fn pause_after(usual: Option<f64>) -> f64 {
    usual.map_or(2.0 * PAUSE_LEAST_S, |usual| {
        (PAUSE_TIMES * usual).max(PAUSE_LEAST_S)
    })
}

/// Cadence of these strokes; none from fewer than two. Pauses between kicks, and the time of
/// strokes that were not seen, are none of it.
pub(crate) fn cadence(strokes: &[Made], turned: Turned) -> Option<Cadence> {
    let mut intervals: Vec<f64> = strokes
        .windows(2)
        .map(|pair| pair[1].time - pair[0].time)
        .filter(|interval| *interval > 0.0)
        .collect();
    let all = intervals.len();
    let longest = if turned.steadily() {
        pause_after(median(&mut intervals))
    } else {
        KICK_OVER_S
    };
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
        pauses: u32::try_from(all - intervals.len()).unwrap_or(u32::MAX),
    })
}

#[cfg(test)]
mod tests;
