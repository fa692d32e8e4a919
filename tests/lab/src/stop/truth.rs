//! The needle as it truly was, from the pressures that were truly shown.

use super::case::{True, Who};
use needlerest::signal::Rig;

/// A kick's strokes follow each other at this distance (s) at most.
const WITHIN_KICK_S: f64 = 0.6;

/// Strokes, or kicks by the best stroke of each: when it began, when it ended, its highest.
pub fn chances(strokes: &[True], who: Who) -> Vec<(f64, f64, f64)> {
    let mut all: Vec<(f64, f64, f64)> = Vec::new();
    for (time, shown) in strokes {
        match all.last_mut() {
            Some((_, ended, top)) if who == Who::Kicks && time - *ended < WITHIN_KICK_S => {
                *ended = *time;
                *top = top.max(*shown);
            }
            _ => all.push((*time, *time, *shown)),
        }
    }
    all
}

/// The needle at `time`: the highest shown; without a check valve, the median of the better half of
/// the tops.
pub fn needle(strokes: &[True], rig: Rig, who: Who, time: f64) -> f64 {
    let until = strokes.partition_point(|(at, _)| *at <= time);
    let made = strokes.get(..until).unwrap_or_default();
    if rig == Rig::Holding {
        return highest(made);
    }
    let mut tops: Vec<f64> = chances(made, who).iter().map(|(_, _, top)| *top).collect();
    tops.sort_by(f64::total_cmp);
    let half = tops.split_off(tops.len() / 2);
    let middle = half.len() / 2;
    match (half.get(middle), half.len() % 2) {
        (Some(upper), 1) => *upper,
        (Some(upper), _) => f64::midpoint(*upper, half[middle - 1]),
        _ => 0.0,
    }
}

/// The highest pressure shown.
pub fn highest(strokes: &[True]) -> f64 {
    strokes.iter().map(|(_, shown)| *shown).fold(0.0, f64::max)
}
