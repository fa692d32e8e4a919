//! A build-up curve's data: strokes as read, what is extrapolated, where it settled.

use crate::pipeline::Run;
use crate::report::palette::Style;
use crate::signal::Outcome;

/// The curve of one run, in strokes and pascal.
pub(super) struct Curve {
    /// Its name in the key.
    pub(super) name: String,
    /// Its reading as text, where it is to be shown.
    pub(super) reading: Option<String>,
    /// Colour and shape.
    pub(super) style: Style,
    /// Stroke number and peak.
    pub(super) strokes: Vec<(f64, f64)>,
    /// From the last stroke on, by the fit: to be dashed. Empty if nothing is extrapolated.
    pub(super) beyond: Vec<(f64, f64)>,
    /// The stroke at which it was settled.
    pub(super) settled: Option<(f64, f64)>,
}

/// The most strokes that a curve is drawn on for.
const BEYOND: u32 = 20;

impl Curve {
    pub(super) fn new(run: &Run, name: String, reading: Option<String>, style: Style) -> Self {
        let result = &run.result;
        let strokes: Vec<(f64, f64)> = result
            .strokes
            .iter()
            .filter(|stroke| stroke.peak.is_finite())
            .map(|stroke| (f64::from(stroke.number), stroke.peak.pa()))
            .collect();
        let settled = result
            .reading
            .as_ref()
            .and_then(|reading| reading.settled_at_stroke)
            .and_then(|number| strokes.iter().find(|(n, _)| *n == f64::from(number)))
            .copied();
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

    pub(super) fn lowest(&self) -> f64 {
        self.strokes
            .iter()
            .fold(f64::INFINITY, |low, (_, level)| low.min(*level))
    }

    pub(super) fn highest(&self) -> f64 {
        self.strokes
            .iter()
            .chain(&self.beyond)
            .fold(0.0, |top, (_, level)| top.max(*level))
    }
}

/// The fit's own course after the last stroke: what is left to climb shrinks by the ratio with
/// each stroke, and ends at the reading that was given.
fn beyond(run: &Run, strokes: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let result = &run.result;
    let (Some(reading), Some(&(last, peak))) = (&result.reading, strokes.last()) else {
        return Vec::new();
    };
    let plateau = reading.value.pa();
    if result.outcome != Outcome::Extrapolated || !plateau.is_finite() {
        return Vec::new();
    }
    let ratio = result
        .build_up
        .map_or(0.5, |fit| fit.ratio)
        .clamp(0.0, 0.95);
    let missing = reading.strokes_missing.unwrap_or(3).clamp(1, BEYOND);
    let mut left = plateau - peak;
    let mut points = vec![(last, peak)];
    for n in 1..=missing {
        left *= ratio;
        points.push((last + f64::from(n), plateau - left));
    }
    if let Some(end) = points.last_mut() {
        end.1 = plateau;
    }
    points
}
