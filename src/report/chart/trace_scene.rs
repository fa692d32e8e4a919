//! Pressure against time of one run as shapes, for paper.

use super::axis::{Scale, decimals, round_step, ticks};
use super::font::covers;
use super::scene::{Align, Ink, Point, Scene, Shape};
use super::trace::{BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, pressure_scale, thinned};
use crate::pipeline::{Run, Trace};
use crate::report::palette::Style;
use crate::report::words;
use crate::units::{Pressure, PressureUnit, Time};

/// A stroke's dot: a black circle.
const DOT: Style = Style(48);
/// Points of a curve.
const POINTS: usize = 1200;

/// Draws a run's trace with a mark at every stroke, on a scale up to `highest`.
pub fn trace_scene(run: &Run, trace: &Trace, highest: Pressure, unit: PressureUnit) -> Scene {
    let points = thinned(&trace.points, POINTS);
    let start = points.first().map_or(Time::ZERO, |p| p.0);
    let length = points
        .last()
        .map_or(0.001, |p| (p.0 - start).s().max(0.001));
    let (y, _) = pressure_scale(highest, unit);
    let x = Scale {
        low: 0.0,
        high: length,
        from: LEFT,
        to: RIGHT,
    };
    let mut shapes = Vec::new();
    axes(&mut shapes, x, y);
    let name = words::shorten(&run.cylinder, 24);
    let name = if covers(&name) {
        name
    } else {
        format!("of run {}", trace.run + 1)
    };
    let condition = run.condition.label();
    let title = format!("Cylinder {name}, {condition}; {unit} against seconds");
    shapes.push(text((LEFT, TOP - 9.0), &title, Align::Left, true));
    let place =
        |time: Time, pressure: Pressure| (x.at((time - start).s()), y.at(pressure.to(unit)));
    let curve: Vec<Point> = points.iter().map(|p| place(p.0, p.1)).collect();
    if curve.len() > 1 {
        let ink = Ink::Curve(Style::of_condition(run.condition));
        shapes.push(line(curve, ink, 1.6, false));
    }
    let called = run.result.stroke_of_call().map(|stroke| stroke.number);
    let strokes = run.result.strokes.iter();
    for stroke in strokes.filter(|s| s.peak.is_finite() && s.time.is_finite()) {
        let at = place(stroke.time, stroke.peak);
        if Some(stroke.number) == called {
            shapes.push(line(vec![(at.0, TOP), (at.0, BOTTOM)], Ink::Ink, 1.0, true));
        }
        shapes.push(Shape::Mark {
            at,
            style: DOT,
            radius: 2.5,
            filled: true,
        });
    }
    Scene {
        width: WIDTH,
        height: HEIGHT - 14.0,
        shapes,
        description: title.clone(),
        title,
    }
}

fn line(points: Vec<Point>, ink: Ink, width: f64, dashed: bool) -> Shape {
    Shape::Line {
        points,
        ink,
        width,
        dashed,
    }
}

fn text(at: Point, text: &str, align: Align, bold: bool) -> Shape {
    Shape::Text {
        at,
        text: text.to_owned(),
        size: 12.0,
        align,
        bold,
    }
}

fn axes(shapes: &mut Vec<Shape>, x: Scale, y: Scale) {
    let step = round_step(y.high, 4);
    for value in ticks(0.0, y.high, step) {
        let (ink, at) = (if value == 0.0 { Ink::Ink } else { Ink::Grid }, y.at(value));
        shapes.push(line(vec![(LEFT, at), (RIGHT, at)], ink, 1.0, false));
        let shown = format!("{value:.*}", decimals(step));
        shapes.push(text((LEFT - 6.0, at + 4.3), &shown, Align::Right, false));
    }
    let step = round_step(x.high, 7);
    for value in ticks(0.0, x.high, step) {
        let at = x.at(value);
        shapes.push(line(
            vec![(at, BOTTOM), (at, BOTTOM + 5.0)],
            Ink::Ink,
            1.0,
            false,
        ));
        let shown = format!("{value:.*}", decimals(step));
        shapes.push(text((at, BOTTOM + 18.0), &shown, Align::Middle, false));
    }
}
