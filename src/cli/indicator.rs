//! A page that shows simulated runs as an indicator would: the pressure in the cylinder, at the
//! sensor, and what the sensor made of it, with the true strokes marked.

use crate::simulate::{Moment, RunTruth, Sample};
use crate::units::PressureUnit;
use std::fmt::Write as _;

const WIDTH: f64 = 960.0;
const MARGIN: [f64; 4] = [18.0, 12.0, 40.0, 56.0];
const BAR: f64 = 1e5;
/// Strokes in the detail after its first one.
const DETAIL: usize = 2;

/// A run to be shown.
#[derive(Default)]
pub(super) struct Shown {
    /// Every step; times on the recording's clock.
    pub(super) steps: Vec<Step>,
}

/// One step of the machine; gauge pressures in bar.
#[derive(Clone, Copy)]
pub(super) struct Step {
    time: f64,
    cylinder: f64,
    tester: f64,
    litres: f64,
}

impl Step {
    /// `ambient` in Pa; `begins` is the time (s) at which the run began.
    pub(super) fn new(moment: &Moment, ambient: f64, begins: f64) -> Self {
        Self {
            time: begins + moment.time,
            cylinder: (moment.cylinder - ambient) / BAR,
            tester: (moment.tester - ambient) / BAR,
            litres: moment.volume * 1e3,
        }
    }
}

/// The page as HTML; `runs`, `truths` belong together in order.
pub(super) fn page(about: &str, runs: &[Shown], truths: &[RunTruth], samples: &[Sample]) -> String {
    let about = escape(about);
    let mut html = format!(
        "<!doctype html>\n<html lang=\"en\">\n<head><meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <title>{about}</title>\n<style>{STYLE}</style></head>\n<body>\n<h1>{about}</h1>\n{LEGEND}"
    );
    for (i, (run, truth)) in runs.iter().zip(truths).enumerate() {
        html.push_str(&section(i + 1, run, truth, samples));
    }
    html.push_str("</body>\n</html>\n");
    html
}

const STYLE: &str = "body{font:16px/1.4 sans-serif;max-width:60rem;margin:2rem auto;padding:0 1rem;\
color:#222;background:#fff}svg{width:100%;height:auto;display:block;margin:.4rem 0 1rem}\
svg text{font:12px sans-serif;fill:#444}.grid{stroke:#ddd}.c{stroke:#999}.t{stroke:#0072b2}\
polyline{fill:none}.c,.t{stroke-width:1.3}.s{fill:#d55e00}.k{fill:#009e73}.p{stroke:#cc79a7;\
stroke-dasharray:6 4}figcaption{color:#444;font-size:.9rem}figure{margin:0}\
b.c{color:#777}b.t{color:#0072b2}b.s{color:#b44f00}b.k{color:#00765a}b.p{color:#a64d7f}";

const LEGEND: &str = "<p><b class=\"c\">Grey</b>: pressure in the cylinder. <b class=\"t\">Blue</b>: \
pressure where the sensor sits. <b class=\"s\">Orange dots</b>: what the sensor gave, with its \
errors. <b class=\"k\">Green triangles</b>: true strokes, at their highest pressure. <b \
class=\"p\">Dashed</b>: what the tester would show after very many strokes. All in bar, gauge. \
Simulated; no engine was measured.</p>\n";

fn section(number: usize, run: &Shown, truth: &RunTruth, samples: &[Sample]) -> String {
    let (begins, ends) = (truth.begins.s(), truth.ends.s());
    let samples: Vec<(f64, f64)> = samples
        .iter()
        .filter(|s| (begins..ends).contains(&s.time.s()) && !s.lost)
        .map(|s| (s.time.s(), s.pressure.pa() / BAR))
        .collect();
    let highest = run.steps.iter().map(|s| s.cylinder).fold(0.5, f64::max);
    let strokes: Vec<f64> = truth.strokes.iter().map(|s| s.time.s()).collect();
    let tester = |s: &Step| (s.time, s.tester);
    let cylinder = |s: &Step| (s.time, s.cylinder);

    let mut whole = Plot::new([begins, ends], [-1.0, 1.1 * highest], 300.0, "s", "bar");
    whole.line("c", &thin(run.steps.iter().map(cylinder), [begins, ends]));
    whole.line("t", &thin(run.steps.iter().map(tester), [begins, ends]));
    whole.level("p", truth.plateau.pa() / BAR);
    whole.marks(&strokes);

    // The first stroke tells little: it begins anywhere.
    let first = 1.min(strokes.len().saturating_sub(1));
    let last = (first + DETAIL).min(strokes.len().saturating_sub(1));
    let around = match (strokes.get(first), strokes.get(last)) {
        (Some(a), Some(b)) if b > a => [a - 0.25, b + 0.25],
        _ => [begins, ends],
    };
    let near = |time: f64| (around[0]..around[1]).contains(&time);
    let steps: Vec<&Step> = run.steps.iter().filter(|s| near(s.time)).collect();
    let mut detail = Plot::new(around, [-1.0, 1.1 * highest], 300.0, "s", "bar");
    let (curve, shown): (Vec<_>, Vec<_>) = steps.iter().map(|s| (cylinder(s), tester(s))).unzip();
    detail.line("c", &curve);
    detail.line("t", &shown);
    detail.dots(samples.into_iter().filter(|&(time, _)| near(time)));
    let strokes: Vec<f64> = strokes.into_iter().filter(|&time| near(time)).collect();
    detail.marks(&strokes);

    let largest = steps.iter().map(|s| s.litres).fold(1e-6, f64::max);
    let mut diagram = Plot::new(
        [0.0, 1.05 * largest],
        [-1.0, 1.1 * highest],
        300.0,
        "litre",
        "bar",
    );
    let loops: Vec<(f64, f64)> = steps.iter().map(|s| (s.litres, s.cylinder)).collect();
    diagram.line("c", &loops);

    let psi = |pressure: crate::units::Pressure| pressure.to(PressureUnit::Psi);
    let mut html = format!(
        "<h2>Run {number}: cylinder {}, {}</h2>\n<p>Plateau {:.1} psi; a gauge without volume would \
         show {:.1} psi; first within tolerance: {}.</p>\n",
        escape(&truth.cylinder),
        truth.condition.label(),
        psi(truth.plateau),
        psi(truth.perfect_gauge),
        truth
            .oracle_stroke
            .map_or("not in this run".to_owned(), |n| format!("stroke {n}")),
    );
    for (plot, caption) in [
        (whole, "The whole run."),
        (detail, "A few strokes of it."),
        (
            diagram,
            "The same strokes as an indicator diagram: pressure over volume.",
        ),
    ] {
        // Writing to a String cannot fail.
        let _ = writeln!(
            html,
            "<figure>{}<figcaption>{caption}</figcaption></figure>",
            plot.svg()
        );
    }
    html
}

/// Lowest and highest point of each column of pixels.
fn thin(points: impl Iterator<Item = (f64, f64)>, [from, to]: [f64; 2]) -> Vec<(f64, f64)> {
    let column = |x: f64| ((x - from) / (to - from) * WIDTH).floor();
    let mut kept: Vec<(f64, f64)> = Vec::new();
    let mut now: Option<(f64, [(f64, f64); 2])> = None;
    for point in points {
        match &mut now {
            Some((at, [low, high])) if *at == column(point.0) => {
                if point.1 < low.1 {
                    *low = point;
                } else if point.1 > high.1 {
                    *high = point;
                }
            }
            _ => {
                keep(&mut kept, now);
                now = Some((column(point.0), [point; 2]));
            }
        }
    }
    keep(&mut kept, now);
    kept
}

fn keep(kept: &mut Vec<(f64, f64)>, column: Option<(f64, [(f64, f64); 2])>) {
    if let Some((_, [low, high])) = column {
        let (a, b) = if low.0 <= high.0 {
            (low, high)
        } else {
            (high, low)
        };
        kept.extend([a, b]);
    }
}

/// A plot on its way to SVG.
struct Plot {
    x: [f64; 2],
    y: [f64; 2],
    height: f64,
    shapes: String,
}

impl Plot {
    fn new(x: [f64; 2], y: [f64; 2], height: f64, unit_x: &str, unit_y: &str) -> Self {
        let mut plot = Self {
            x,
            y,
            height,
            shapes: String::new(),
        };
        let [top, right, bottom, left] = MARGIN;
        for value in ticks(x, 10.0) {
            let at = plot.place(value, 0.0).0;
            plot.add(format_args!(
                "<line class=\"grid\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{top}\" y2=\"{:.1}\"/>\
                 <text x=\"{at:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>",
                height - bottom,
                height - bottom + 16.0,
                number(value),
            ));
        }
        for value in ticks(y, 6.0) {
            let at = plot.place(0.0, value).1;
            plot.add(format_args!(
                "<line class=\"grid\" x1=\"{left}\" x2=\"{:.1}\" y1=\"{at:.1}\" y2=\"{at:.1}\"/>\
                 <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>",
                WIDTH - right,
                left - 6.0,
                at + 4.0,
                number(value),
            ));
        }
        plot.add(format_args!(
            "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{unit_x}</text>\
             <text x=\"4\" y=\"13\">{unit_y}</text>",
            WIDTH - right,
            height - 6.0,
        ));
        plot
    }

    fn add(&mut self, shape: std::fmt::Arguments<'_>) {
        // Writing to a String cannot fail.
        let _ = self.shapes.write_fmt(shape);
    }

    fn place(&self, x: f64, y: f64) -> (f64, f64) {
        let [top, right, bottom, left] = MARGIN;
        let share = |v: f64, [low, high]: [f64; 2]| (v - low) / (high - low);
        (
            left + share(x, self.x) * (WIDTH - left - right),
            self.height - bottom - share(y, self.y) * (self.height - top - bottom),
        )
    }

    fn line(&mut self, class: &str, points: &[(f64, f64)]) {
        self.add(format_args!("<polyline class=\"{class}\" points=\""));
        for &(x, y) in points {
            let (x, y) = self.place(x, y);
            self.add(format_args!("{x:.1},{y:.1} "));
        }
        self.add(format_args!("\"/>"));
    }

    fn dots(&mut self, points: impl Iterator<Item = (f64, f64)>) {
        for (x, y) in points {
            let (x, y) = self.place(x, y);
            self.add(format_args!(
                "<circle class=\"s\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"1.5\"/>"
            ));
        }
    }

    fn level(&mut self, class: &str, y: f64) {
        let ends = self.x;
        self.line(class, &[(ends[0], y), (ends[1], y)]);
    }

    /// Triangles at the upper edge.
    fn marks(&mut self, times: &[f64]) {
        for &time in times {
            let x = self.place(time, 0.0).0;
            self.add(format_args!(
                "<path class=\"k\" d=\"M{:.1} 6h10l-5 10z\"/>",
                x - 5.0
            ));
        }
    }

    fn svg(&self) -> String {
        format!(
            "<svg viewBox=\"0 0 {WIDTH} {}\" role=\"img\" aria-label=\"plot of pressure\">{}</svg>",
            self.height, self.shapes
        )
    }
}

/// Round numbers in a range, about so many.
fn ticks([low, high]: [f64; 2], about: f64) -> Vec<f64> {
    let rough = (high - low) / about;
    let power = libm::exp10(libm::log10(rough).floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|digit| digit * power)
        .find(|step| *step >= rough)
        .unwrap_or(rough);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    (first..=last).map(|i| i as f64 * step).collect()
}

/// Without the noise of binary fractions.
fn number(value: f64) -> String {
    let rounded = (value * 1e4).round() / 1e4;
    format!("{}", if rounded == 0.0 { 0.0 } else { rounded })
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}
