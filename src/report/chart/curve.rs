//! A build-up curve's data: the needle stroke by stroke, where it was heading, where it settled.

use crate::pipeline::Run;
use crate::report::palette::Style;
use crate::signal::{Rig, RunResult, Stroke};

/// The curve of one run, in strokes and pascal.
pub(super) struct Curve {
    /// Its name in the key.
    pub(super) name: String,
    /// Its reading as text, where it is to be shown.
    pub(super) reading: Option<String>,
    /// Colour and shape.
    pub(super) style: Style,
    /// Stroke (kick, pull) and needle.
    pub(super) strokes: Vec<(f64, f64)>,
    /// Still climbing: from the last stroke on to where it was heading, to be dashed.
    pub(super) beyond: Vec<(f64, f64)>,
    /// Where STOP was called.
    pub(super) settled: Option<(f64, f64)>,
}

/// The most strokes that a curve is drawn on for, and no more than were measured, …
const BEYOND: u32 = 8;
/// … but at least so many, …
const BEYOND_LEAST: u32 = 2;
/// … or until no more than this share is left to climb.
const NOTHING_LEFT: f64 = 0.005;

impl Curve {
    pub(super) fn new(run: &Run, name: String, reading: Option<String>, style: Style) -> Self {
        let result = &run.result;
        let strokes = needle(result);
        let settled = result
            .call
            .and_then(|call| at(&strokes, f64::from(call.count)));
        Self {
            beyond: beyond(run, &strokes),
            name,
            reading,
            style,
            strokes,
            settled,
        }
    }

    pub(super) fn last_stroke(&self) -> f64 {
        let end = |points: &[(f64, f64)]| points.last().map_or(0.0, |(n, _)| *n);
        end(&self.strokes).max(end(&self.beyond))
    }

    /// Highest that was measured, in pascal.
    pub(super) fn highest(&self) -> f64 {
        let levels = self.strokes.iter().map(|(_, level)| *level);
        levels.fold(0.0, f64::max)
    }
}

/// What a person saw: behind a check valve the needle, which climbs, up to the last stroke that was
/// due; without one, the top of each stroke.
fn needle(result: &RunResult) -> Vec<(f64, f64)> {
    let following = result.rig == Some(Rig::Following);
    let shown = |stroke: &Stroke| stroke.shown(result.rig);
    let mut points: Vec<(f64, f64)> = Vec::new();
    for stroke in result.strokes.iter().filter(|s| shown(s).is_finite()) {
        let point = (f64::from(stroke.count), shown(stroke).pa());
        match points.last_mut() {
            // Strokes of one kick: its best.
            Some(last) if last.0 == point.0 => last.1 = last.1.max(point.1),
            _ => points.push(point),
        }
    }
    if let (Some((last, level)), false) = (points.last().copied(), following)
        && last < f64::from(result.count)
    {
        points.push((f64::from(result.count), level));
    }
    points
}

/// The point at a stroke, between two points where nothing was seen of it.
fn at(points: &[(f64, f64)], stroke: f64) -> Option<(f64, f64)> {
    let before = points.iter().rev().find(|(n, _)| *n <= stroke)?;
    Some((stroke, before.1))
}

/// On from the last stroke, by the line along which the needle climbed.
fn beyond(run: &Run, strokes: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let result = &run.result;
    let heading = result.reading.as_ref().and_then(|reading| reading.heading);
    let (Some(heading), Some(&(last, level))) = (heading, strokes.last()) else {
        return Vec::new();
    };
    let ratio = result
        .build_up
        .map_or(0.5, |fit| fit.ratio)
        .clamp(0.0, 0.95);
    let mut left = heading.pa() - level;
    let mut points = vec![(last, level)];
    let most = (strokes.len() as u32).clamp(BEYOND_LEAST, BEYOND);
    for n in 1..=most {
        left *= ratio;
        points.push((last + f64::from(n), heading.pa() - left));
        if left < NOTHING_LEFT * heading.pa() {
            break;
        }
    }
    points
}
