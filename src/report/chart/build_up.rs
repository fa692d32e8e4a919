//! The build-up curves: peak against stroke number, overlaid.

use super::axis::{Scale, decimals, round_step, ticks};
use super::curve::Curve;
use super::font::{covers, width as text_width};
use super::scene::{Align, Ink, Point, Scene, Shape};
use crate::engine::{Condition, Limits};
use crate::pipeline::{Findings, Run};
use crate::report::damage;
use crate::report::palette::Style;
use crate::report::view::{Units, conditions, label};
use crate::report::words;
use crate::units::{Pressure, PressureUnit};

/// Font size of everything but titles, in pixels.
const SIZE: f64 = 13.0;
/// Curves that are drawn into one plot: as many as a job card has cylinders.
const MOST_CURVES: usize = 64;
/// Columns that a name takes at most in a key.
const NAME: usize = 18;
/// Height of a line in the key.
const LINE: f64 = 19.0;
/// Room left of the plot for the scale's texts.
const LEFT: f64 = 58.0;
const RIGHT: f64 = 14.0;

/// One plot for each condition tested, all cylinders overlaid, `width` pixels wide.
pub fn by_condition(findings: &Findings, units: Units, width: f64) -> Vec<Scene> {
    conditions(findings)
        .into_iter()
        .map(|condition| {
            let (curves, title) = condition_curves(findings, condition, None);
            let title = format!("Build-up, {title}");
            Panel::new(findings, units, curves).draw(&title, width)
        })
        .collect()
}

/// One plot for each cylinder, its conditions overlaid, `width` pixels wide.
pub fn by_cylinder(findings: &Findings, units: Units, width: f64) -> Vec<Scene> {
    names(findings)
        .into_iter()
        .map(|name| {
            let curves = counted(findings)
                .filter(|(_, run)| run.cylinder == name)
                .map(|(_, run)| {
                    let style = Style::of_condition(run.condition);
                    Curve::new(run, run.condition.label().to_owned(), None, style)
                })
                .collect();
            let title = format!("Build-up, cylinder {}", words::shorten(name, NAME));
            Panel::new(findings, units, curves).draw(&title, width)
        })
        .collect()
}

/// Everything on one sheet 800 pixels wide, to stand alone: a plot a condition, with readings.
pub fn sheet(findings: &Findings, units: Units) -> Scene {
    let width = 800.0;
    let mut sheet = Scene {
        width,
        height: 40.0,
        shapes: Vec::new(),
        title: format!("Build-up of {}", label(findings)),
        description: words::clean(&findings.assessment.verdict),
    };
    let head = drawable(&words::shorten(&label(findings), 60), "Compression test");
    sheet
        .shapes
        .push(text((LEFT, 26.0), &head, Align::Left, true));
    let date: String = words::clean(&findings.recording.started)
        .chars()
        .take(10)
        .collect();
    sheet
        .shapes
        .push(text((width - RIGHT, 26.0), &date, Align::Right, false));
    if !damage(&findings.recording).is_empty() {
        sheet.shapes.push(text(
            (LEFT, 46.0),
            "The recording is not whole: see the report.",
            Align::Left,
            true,
        ));
        sheet.height = 60.0;
    }
    let tested = conditions(findings);
    for condition in &tested {
        let (curves, title) = condition_curves(findings, *condition, Some(units.main));
        let panel = Panel::new(findings, units, curves).draw(&title, width);
        sheet.append(&panel, sheet.height);
        sheet.height += panel.height;
    }
    if tested.is_empty() {
        let line = "No run was made.";
        sheet
            .shapes
            .push(text((LEFT, sheet.height + 20.0), line, Align::Left, false));
        sheet.height += 40.0;
    }
    sheet
}

fn counted(findings: &Findings) -> impl Iterator<Item = (usize, &Run)> {
    findings
        .runs
        .iter()
        .enumerate()
        .filter(|(_, run)| !run.void)
}

/// Cylinders in the assessment's order, then those that it does not have.
pub(super) fn names(findings: &Findings) -> Vec<&str> {
    let mut names: Vec<&str> = Vec::new();
    let assessed = findings
        .assessment
        .cylinders
        .iter()
        .map(|c| c.name.as_str());
    let run = counted(findings).map(|(_, run)| run.cylinder.as_str());
    for name in assessed.chain(run) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    names
}

/// The curves of a condition, as many as fit one plot, and what to call them.
fn condition_curves(
    findings: &Findings,
    condition: Condition,
    readings: Option<PressureUnit>,
) -> (Vec<Curve>, String) {
    let names = names(findings);
    let made = || counted(findings).filter(|(_, run)| run.condition == condition);
    let title = match made().count() {
        count if count > MOST_CURVES => {
            format!(
                "{} (the first {MOST_CURVES} of {count} runs)",
                condition.label()
            )
        }
        _ => condition.label().to_owned(),
    };
    let curves = made()
        .take(MOST_CURVES)
        .map(|(_, run)| {
            let number = names
                .iter()
                .position(|name| *name == run.cylinder)
                .unwrap_or(0);
            let stand_in = format!("no. {}", number + 1);
            let name = drawable(&words::shorten(&run.cylinder, NAME), &stand_in);
            let reading = readings.map(|unit| reading(run, unit));
            Curve::new(run, name, reading, Style(number))
        })
        .collect();
    (curves, title)
}

fn reading(run: &Run, unit: PressureUnit) -> String {
    run.result.reading.as_ref().map_or_else(
        || "no reading".to_owned(),
        |reading| {
            let (value, expanded) = (reading.value.digits(unit), reading.expanded.digits(unit));
            format!("{value} ± {expanded}")
        },
    )
}

/// The text, or what stands for it where the carried font cannot draw it.
fn drawable(text: &str, stand_in: &str) -> String {
    if covers(text) {
        text.to_owned()
    } else {
        stand_in.to_owned()
    }
}

fn text(at: Point, text: &str, align: Align, bold: bool) -> Shape {
    Shape::Text {
        at,
        text: text.to_owned(),
        size: if bold { SIZE + 2.0 } else { SIZE },
        align,
        bold,
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

/// What of a computed continuation the scale makes room for, above the highest that was measured:
/// what was measured must not be pressed together by what was not.
const ROOM_BEYOND: f64 = 1.25;

/// How far the scales of all plots reach, so that they can be compared.
#[derive(Clone, Copy)]
struct Extent {
    strokes: f64,
    top: Pressure,
}

impl Extent {
    fn of(findings: &Findings, limits: &Limits) -> Self {
        let curve = |run| Curve::new(run, String::new(), None, Style(0));
        let curves: Vec<Curve> = counted(findings).map(|(_, run)| curve(run)).collect();
        let measured = curves.iter().map(Curve::highest).fold(0.0, f64::max);
        let beyond = curves.iter().flat_map(|curve| &curve.beyond);
        let beyond = beyond.fold(0.0, |top: f64, (_, level)| top.max(*level));
        let limits = [limits.service_limit, limits.normal_high, limits.normal_low];
        let limits = limits.into_iter().flatten().map(Pressure::pa);
        let top = limits.fold(measured.max(beyond.min(measured * ROOM_BEYOND)), f64::max);
        Self {
            strokes: curves.iter().fold(1.0, |n, c| c.last_stroke().max(n)),
            top: Pressure::from_pa(top),
        }
    }
}

/// One plot while it is laid out.
struct Panel {
    unit: PressureUnit,
    limits: Limits,
    extent: Extent,
    curves: Vec<Curve>,
    shapes: Vec<Shape>,
}

impl Panel {
    fn new(findings: &Findings, units: Units, curves: Vec<Curve>) -> Self {
        let limits = findings.card.as_ref().and_then(|card| card.limits.clone());
        let limits = limits.unwrap_or_default();
        Self {
            unit: units.main,
            extent: Extent::of(findings, &limits),
            limits,
            curves,
            shapes: Vec::new(),
        }
    }

    fn draw(mut self, title: &str, width: f64) -> Scene {
        let (top, height) = (34.0, if width < 600.0 { 240.0 } else { 300.0 });
        let bottom = top + height;
        self.shapes
            .push(text((LEFT, 20.0), title, Align::Left, true));
        let (x, y) = self.scales((LEFT, width - RIGHT), (bottom, top));
        self.limits(x, y);
        self.axes(x, y);
        self.curves(x, y);
        let end = self.key(bottom + 58.0, width);
        Scene {
            width,
            height: end + 6.0,
            title: title.to_owned(),
            description: self.description(),
            shapes: self.shapes,
        }
    }

    /// From zero, and the same for every plot of a report.
    fn scales(&self, across: Point, up: Point) -> (Scale, Scale) {
        let top = self.extent.top.to(self.unit);
        let top = if top > 0.0 { top } else { 1.0 };
        let step = round_step(top, 9);
        let x = Scale {
            low: 0.5,
            high: self.extent.strokes + 0.5,
            from: across.0,
            to: across.1,
        };
        let y = Scale {
            low: 0.0,
            high: libm::ceil(top * 1.02 / step) * step,
            from: up.0,
            to: up.1,
        };
        (x, y)
    }

    fn limits(&mut self, x: Scale, y: Scale) {
        let level = |pressure: Pressure| y.at(pressure.to(self.unit));
        if let (Some(low), Some(high)) = (self.limits.normal_low, self.limits.normal_high) {
            self.shapes.push(Shape::Band {
                from: (x.from, level(high)),
                to: (x.to, level(low)),
                ink: Ink::Range,
            });
        }
        if let Some(limit) = self.limits.service_limit {
            let points = vec![(x.from, level(limit)), (x.to, level(limit))];
            self.shapes.push(line(points, Ink::Limit, 2.0, false));
        }
    }

    fn axes(&mut self, x: Scale, y: Scale) {
        let step = round_step(y.high - y.low, 7);
        for value in ticks(y.low, y.high, step) {
            let at = y.at(value);
            let ink = if value == y.low { Ink::Ink } else { Ink::Grid };
            self.shapes
                .push(line(vec![(x.from, at), (x.to, at)], ink, 1.0, false));
            let shown = format!("{value:.*}", decimals(step));
            self.shapes
                .push(text((x.from - 8.0, at + 4.5), &shown, Align::Right, false));
        }
        let most = ((x.to - x.from) / 34.0) as u32;
        let step = round_step(x.high - x.low, most).max(1.0);
        for value in ticks(1.0, x.high - 0.5, step) {
            let at = x.at(value);
            self.shapes.push(line(
                vec![(at, y.from), (at, y.from + 5.0)],
                Ink::Ink,
                1.0,
                false,
            ));
            self.shapes.push(text(
                (at, y.from + 19.0),
                &format!("{value:.0}"),
                Align::Middle,
                false,
            ));
        }
        let middle = f64::midpoint(x.from, x.to);
        self.shapes.push(text(
            (middle, y.from + 38.0),
            "stroke",
            Align::Middle,
            false,
        ));
        let unit = self.unit.to_string();
        self.shapes.push(text(
            (x.from - 8.0, y.to - 14.0),
            &unit,
            Align::Right,
            false,
        ));
    }

    fn curves(&mut self, x: Scale, y: Scale) {
        let unit = self.unit.pascals();
        let place = |(n, level): &(f64, f64)| (x.at(*n), y.at(level / unit));
        // Marks closer together than this would run into a band.
        let every = libm::ceil(10.0 / (x.at(2.0) - x.at(1.0)).max(0.1)) as usize;
        for curve in &self.curves {
            let ink = Ink::Curve(curve.style);
            let points: Vec<Point> = curve.strokes.iter().map(place).collect();
            let inside = |(_, level): &&(f64, f64)| level / unit <= y.high;
            let seen = curve.beyond.iter().take_while(inside);
            let beyond: Vec<Point> = seen.map(place).collect();
            if points.len() > 1 {
                self.shapes.push(line(points.clone(), ink, 2.0, false));
            }
            let whole = beyond.len() == curve.beyond.len();
            let end = beyond.last().copied().filter(|_| whole);
            if beyond.len() > 1 {
                self.shapes.push(line(beyond, ink, 2.0, true));
            }
            let last = points.len().saturating_sub(1);
            let marked = points
                .iter()
                .enumerate()
                .filter(|(n, _)| n % every == 0 || *n == last);
            let mark = |at, filled| Shape::Mark {
                at,
                style: curve.style,
                radius: 4.5,
                filled,
            };
            self.shapes.extend(marked.map(|(_, at)| mark(*at, true)));
            self.shapes.extend(end.map(|at| mark(at, false)));
            let ring = curve.settled.as_ref().map(place);
            self.shapes
                .extend(ring.map(|at| Shape::Ring { at, radius: 8.0 }));
        }
    }

    /// Draws the key from `top` on, the curves in columns and then what else is to be seen; gives
    /// where it ends.
    fn key(&mut self, top: f64, width: f64) -> f64 {
        let (curves, signs) = self.entries();
        let below = self.block(&curves, top, width);
        self.flow(&signs, below, width) - LINE + 8.0
    }

    fn block(&mut self, entries: &[Entry], top: f64, width: f64) -> f64 {
        if entries.is_empty() {
            return top;
        }
        let room = width - LEFT - RIGHT;
        let widest = entries.iter().map(Entry::width).fold(60.0, f64::max);
        let most = libm::floor(room / widest).clamp(1.0, 6.0) as usize;
        let rows = entries.len().div_ceil(most);
        let columns = entries.len().div_ceil(rows);
        for (n, entry) in entries.iter().enumerate() {
            let left = LEFT + room / columns.max(most.min(4)) as f64 * (n / rows) as f64;
            let base = top + LINE * (n % rows) as f64;
            entry.draw(&mut self.shapes, (left, base));
        }
        top + LINE * rows as f64
    }

    /// One after the other, on the next line where there is no more room.
    fn flow(&mut self, entries: &[Entry], top: f64, width: f64) -> f64 {
        let (mut left, mut base) = (LEFT, top);
        for entry in entries {
            if left > LEFT && left + entry.width() > width - RIGHT {
                (left, base) = (LEFT, base + LINE);
            }
            entry.draw(&mut self.shapes, (left, base));
            left += entry.width();
        }
        if entries.is_empty() { top } else { base + LINE }
    }

    fn entries(&self) -> (Vec<Entry>, Vec<Entry>) {
        let curves = self
            .curves
            .iter()
            .map(|curve| {
                let reading = curve.reading.as_ref();
                let reading = reading.map_or_else(String::new, |r| format!("   {r}"));
                Entry(Sign::Curve(curve.style), format!("{}{reading}", curve.name))
            })
            .collect();
        let mut entries = Vec::new();
        if self.curves.iter().any(|curve| curve.settled.is_some()) {
            entries.push(Entry(Sign::Settled, "STOP called here".to_owned()));
        }
        if self.curves.iter().any(|curve| !curve.beyond.is_empty()) {
            entries.push(Entry(Sign::Heading, "was heading for".to_owned()));
        }
        if let (Some(low), Some(high)) = (self.limits.normal_low, self.limits.normal_high) {
            let (low, high) = (low.digits(self.unit), high.show(self.unit));
            entries.push(Entry(Sign::Range, format!("normal {low}–{high}")));
        }
        if let Some(limit) = self.limits.service_limit {
            let limit = limit.show(self.unit);
            entries.push(Entry(Sign::Limit, format!("service limit {limit}")));
        }
        (curves, entries)
    }

    fn description(&self) -> String {
        let curves: Vec<String> = self
            .curves
            .iter()
            .map(|curve| {
                let (count, end) = curve.strokes.last().copied().unwrap_or_default();
                let end = Pressure::from_pa(end).show(self.unit);
                let settled = match (curve.settled, curve.beyond.last()) {
                    (Some((n, _)), _) => format!(", STOP called at {n}"),
                    (None, Some((_, level))) => {
                        let level = Pressure::from_pa(*level).show(self.unit);
                        format!(", heading for {level}")
                    }
                    (None, None) => String::new(),
                };
                format!(
                    "{}: strokes, kicks or pulls: {count}, up to {end}{settled}",
                    curve.name
                )
            })
            .collect();
        format!("{}.", curves.join("; "))
    }
}

/// What an entry of the key stands for.
enum Sign {
    Curve(Style),
    Settled,
    Heading,
    Range,
    Limit,
}

struct Entry(Sign, String);

impl Entry {
    /// Room for the sign, left of the text.
    const SIGN: f64 = 32.0;

    fn width(&self) -> f64 {
        // A little more than measured: where the page's font is not the carried one.
        Self::SIGN + text_width(&self.1, SIZE, false) * 1.08 + 14.0
    }

    fn draw(&self, shapes: &mut Vec<Shape>, (left, base): Point) {
        let (from, to, y) = (left, left + 24.0, base - 4.5);
        let centre = (left + 12.0, y);
        let across = vec![(from, y), (to, y)];
        match self.0 {
            Sign::Curve(style) => {
                shapes.push(line(across, Ink::Curve(style), 2.0, false));
                shapes.push(Shape::Mark {
                    at: centre,
                    style,
                    radius: 4.5,
                    filled: true,
                });
            }
            Sign::Settled => shapes.push(Shape::Ring {
                at: centre,
                radius: 7.0,
            }),
            Sign::Heading => shapes.push(line(across, Ink::Ink, 2.0, true)),
            Sign::Range => shapes.push(Shape::Band {
                from: (from, y - 5.0),
                to: (to, y + 5.0),
                ink: Ink::Range,
            }),
            Sign::Limit => shapes.push(line(across, Ink::Limit, 2.0, false)),
        }
        shapes.push(text((left + Self::SIGN, base), &self.1, Align::Left, false));
    }
}
