//! Pressure against time of one run, with a mark at every stroke. The curve lies in a nested
//! drawing of its own, in milliseconds and parts of the scale, so that the page's script zooms by
//! changing what part of it is shown; without a script it simply shows all.

use super::axis::{Scale, decimals, round_step, ticks};
use super::inline::escape;
use crate::pipeline::{Findings, Run, Trace};
use crate::report::palette::Style;
use crate::report::words;
use crate::units::{Pressure, PressureUnit, Time};
use std::fmt::Write as _;

pub(super) const WIDTH: f64 = 480.0;
pub(super) const HEIGHT: f64 = 200.0;
pub(super) const LEFT: f64 = 50.0;
pub(super) const RIGHT: f64 = 470.0;
pub(super) const TOP: f64 = 22.0;
pub(super) const BOTTOM: f64 = 158.0;
/// Parts into which the pressure scale is divided.
const PARTS: f64 = 4000.0;

/// A run's pressure against time.
pub struct TracePlot {
    /// The `<svg>` element.
    pub svg: String,
    /// Length of the run in milliseconds: the script's scale.
    pub length_ms: u64,
}

/// Writing to a string cannot fail.
macro_rules! put { ($out:expr, $($arg:tt)*) => { let _ = write!($out, $($arg)*); } }

/// The highest pressure of all runs that count, which every trace's scale reaches.
pub fn highest_of_all(findings: &Findings, traces: &[Trace]) -> Pressure {
    let counted = |trace: &&Trace| findings.runs.get(trace.run).is_some_and(|run| !run.void);
    let points = traces.iter().filter(counted).flat_map(|t| &t.points);
    let runs = findings.runs.iter().filter(|run| !run.void);
    let peaks = runs.flat_map(|run| &run.result.strokes).map(|s| s.peak);
    let all = points.map(|point| point.1).chain(peaks);
    all.fold(Pressure::ZERO, Pressure::max)
}

/// The scale from zero to at least `highest`, and its step.
pub(super) fn pressure_scale(highest: Pressure, unit: PressureUnit) -> (Scale, f64) {
    let top = highest.to(unit);
    let top = if top > 0.0 && top.is_finite() {
        top
    } else {
        1.0
    };
    let step = round_step(top, 4);
    let scale = Scale {
        low: 0.0,
        high: libm::ceil(top * 1.05 / step) * step,
        from: BOTTOM,
        to: TOP,
    };
    (scale, step)
}

/// Draws a run's trace of at most about `most` points, on a scale up to `highest`; `id` makes its
/// ids unique.
pub fn trace_plot(
    run: &Run,
    trace: &Trace,
    (highest, unit): (Pressure, PressureUnit),
    most: usize,
    id: &str,
) -> TracePlot {
    let points = thinned(&trace.points, most);
    let start = points.first().map_or(Time::ZERO, |p| p.0);
    let end = points.last().map_or(Time::ZERO, |p| p.0);
    let length = libm::ceil((end - start).s().max(0.001) * 1000.0);
    let (y, step) = pressure_scale(highest, unit);
    let window = Window {
        start,
        length,
        top: y.high * unit.pascals(),
    };
    let mut svg = head(run, unit, id);
    pressure_axis(&mut svg, y, step, unit);
    time_axis(&mut svg, length);
    window.draw(&mut svg, run, &points);
    svg.push_str("</svg>");
    TracePlot {
        svg,
        length_ms: length as u64,
    }
}

fn head(run: &Run, unit: PressureUnit, id: &str) -> String {
    let strokes = words::many(run.result.strokes.len() as u64, "stroke");
    let highest = run
        .result
        .strokes
        .iter()
        .fold(Pressure::ZERO, |top, s| top.max(s.peak));
    let title = format!(
        "Pressure over time, cylinder {}, {}",
        words::clean(&run.cylinder),
        run.condition.label()
    );
    format!(
        "<svg class=\"plot\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\
         <title id=\"{id}-t\">{}</title><desc id=\"{id}-d\">{strokes}, the highest at {}.</desc>",
        escape(&title),
        highest.show(unit),
    )
}

fn pressure_axis(out: &mut String, y: Scale, step: f64, unit: PressureUnit) {
    for value in ticks(0.0, y.high, step) {
        let at = y.at(value);
        let class = if value == 0.0 { "ink" } else { "grid" };
        put!(
            out,
            "<polyline class=\"l {class}\" points=\"{LEFT},{at:.1} {RIGHT},{at:.1}\"/>"
        );
        put!(
            out,
            "<text x=\"{}\" y=\"{:.1}\" font-size=\"12\" text-anchor=\"end\">{value:.*}</text>",
            LEFT - 6.0,
            at + 4.3,
            decimals(step)
        );
    }
    put!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"12\" text-anchor=\"end\">{unit}</text>",
        LEFT - 6.0,
        TOP - 11.0
    );
}

/// The script draws these texts anew when it zooms; it divides as this does.
fn time_axis(out: &mut String, length: f64) {
    let seconds = length / 1000.0;
    let step = round_step(seconds, 7);
    out.push_str("<g class=\"time\">");
    let x = Scale {
        low: 0.0,
        high: seconds,
        from: LEFT,
        to: RIGHT,
    };
    for value in ticks(0.0, seconds, step) {
        let at = x.at(value);
        put!(
            out,
            "<polyline class=\"l ink\" points=\"{at:.1},{BOTTOM} {at:.1},{}\"/>",
            BOTTOM + 5.0
        );
        put!(
            out,
            "<text x=\"{at:.1}\" y=\"{}\" font-size=\"12\" text-anchor=\"middle\">{value:.*}</text>",
            BOTTOM + 18.0,
            decimals(step)
        );
    }
    out.push_str("</g>");
    put!(
        out,
        "<text x=\"{}\" y=\"{}\" font-size=\"12\" text-anchor=\"middle\">seconds into the run</text>",
        f64::midpoint(LEFT, RIGHT),
        BOTTOM + 36.0
    );
}

/// The nested drawing.
struct Window {
    start: Time,
    /// In milliseconds.
    length: f64,
    /// Pressure at the upper end, in pascal.
    top: f64,
}

impl Window {
    fn place(&self, time: Time, pressure: Pressure) -> (i64, i64) {
        let right = libm::round((time - self.start).s() * 1000.0);
        let share = (pressure.pa() / self.top).clamp(0.0, 1.0);
        (right as i64, libm::round((1.0 - share) * PARTS) as i64)
    }

    fn draw(&self, out: &mut String, run: &Run, points: &[(Time, Pressure)]) {
        let (w, h) = (RIGHT - LEFT, BOTTOM - TOP);
        put!(
            out,
            "<svg class=\"win\" x=\"{LEFT}\" y=\"{TOP}\" width=\"{w}\" height=\"{h}\" viewBox=\"0 0 {:.0} {PARTS}\" preserveAspectRatio=\"none\">",
            self.length
        );
        let colour = Style::of_condition(run.condition).colour_index();
        put!(
            out,
            "<path class=\"l c{colour}\" d=\"{}\"/>",
            self.path(points)
        );
        let result = &run.result;
        if let Some(stroke) = result.stroke_of_call() {
            let (x, _) = self.place(stroke.time, stroke.peak);
            put!(out, "<path class=\"l ink d\" d=\"M{x} 0V{PARTS}\"/>");
        }
        // A line of no length with round ends is a dot of the same size at every zoom.
        let mut dots = String::new();
        for stroke in &result.strokes {
            if stroke.peak.is_finite() && stroke.time.is_finite() {
                let (x, y) = self.place(stroke.time, stroke.peak);
                put!(dots, "M{x} {y}h0");
            }
        }
        if !dots.is_empty() {
            put!(out, "<path class=\"dots\" d=\"{dots}\"/>");
        }
        out.push_str("</svg>");
    }

    /// In relative steps, which are short.
    fn path(&self, points: &[(Time, Pressure)]) -> String {
        let mut path = String::new();
        let mut before: Option<(i64, i64)> = None;
        for (time, pressure) in points {
            let (x, y) = self.place(*time, *pressure);
            match before {
                None => {
                    put!(path, "M{x} {y}l");
                }
                Some((x0, y0)) => {
                    let gap = if y < y0 { "" } else { " " };
                    let first = if path.ends_with('l') { "" } else { " " };
                    let (x, y) = (x.saturating_sub(x0), y.saturating_sub(y0));
                    put!(path, "{first}{x}{gap}{y}");
                }
            }
            before = Some((x, y));
        }
        if path.ends_with('l') {
            path.push_str("0 0");
        }
        path
    }
}

/// At most about `most` points, the lowest and the highest of each group in order of time.
pub(super) fn thinned(points: &[(Time, Pressure)], most: usize) -> Vec<(Time, Pressure)> {
    let size = (2 * points.len()).div_ceil(most.max(2));
    if size <= 2 {
        return points.to_vec();
    }
    let mut kept = Vec::with_capacity(most);
    for group in points.chunks(size) {
        let by_pressure =
            |a: &&(Time, Pressure), b: &&(Time, Pressure)| a.1.pa().total_cmp(&b.1.pa());
        let (low, high) = (
            group.iter().min_by(by_pressure),
            group.iter().max_by(by_pressure),
        );
        let (Some(low), Some(high)) = (low, high) else {
            continue;
        };
        let (first, second) = if low.0 <= high.0 {
            (low, high)
        } else {
            (high, low)
        };
        kept.push(*first);
        if second != first {
            kept.push(*second);
        }
    }
    kept
}
