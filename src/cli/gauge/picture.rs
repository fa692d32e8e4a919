//! The gauge as a page shows it: the words of the same [`Scene`], and lengths as shares, so that
//! a page has nothing to decide and cannot tell anything else than the terminal does.

use super::build_ups::{side_by_side, symbol, top, value};
use super::figures::{about, cylinder, number};
use super::needle::{NO_LIMIT, marks, share, target};
use super::scene::{BuildUpScene, Mark, Number, Scene};
use super::sensor_words;
use crate::session::{Tone, View, place};
use crate::units::{Pressure, PressureUnit};
use serde::Serialize;

/// Numbers along the needle: what a narrow screen has room for.
const NUMBERS: f64 = 5.0;

/// The gauge as a page shows it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Picture {
    engine: String,
    /// `cylinder 2 cold`
    run: Option<String>,
    /// `run 2 of 4`
    count: Option<String>,
    sensor: String,
    sensor_good: bool,
    /// `calm`, `go`, `stop` or `trouble`
    tone: &'static str,
    /// `wait`, `turn`, `bleed`, `stop` or `trouble`: what is to be done, as a shape beside the words.
    shape: &'static str,
    /// The cautions have not been acknowledged yet.
    cautions: bool,
    /// Somebody has cranked.
    begun: bool,
    headline: &'static str,
    next: String,
    note: Option<String>,
    trouble: Option<String>,
    /// What it is, `cylinder` or `run`, and its name.
    cylinder: Option<(&'static str, String)>,
    /// The large number, and what it is.
    number: String,
    caption: String,
    /// `needle`, `settled`, `oil` or `now`
    is: &'static str,
    about: Vec<String>,
    needle: Needle,
    runs: Vec<Run>,
}

/// The needle: where things are along it, as shares of its length.
#[derive(Clone, Debug, PartialEq, Serialize)]
struct Needle {
    now: f64,
    target: Option<f64>,
    numbers: Vec<(f64, String)>,
    low: Option<f64>,
    high: Option<f64>,
    limit: Option<f64>,
    /// Said where nothing is asked for.
    none: Option<&'static str>,
}

/// A build-up.
#[derive(Clone, Debug, PartialEq, Serialize)]
struct Run {
    name: String,
    symbol: &'static str,
    /// `making`, `good`, `wrong` or `void`
    state: &'static str,
    /// Heights of its columns, as shares of the highest of all runs.
    columns: Vec<f64>,
    value: String,
}

impl From<&Scene> for Picture {
    fn from(scene: &Scene) -> Self {
        let view = &scene.view;
        let (caption, digits) = number(scene);
        let (at, of) = view.count;
        let [_, sensor, ..] = sensor_words(&scene.sensor);
        let runs = side_by_side(scene);
        let top = top(&runs);
        let run = view.run.as_ref();
        Self {
            engine: scene.engine.clone(),
            run: run.map(|(name, condition)| format!("{} {}", place(name), condition.label())),
            count: run.filter(|_| of > 0).map(|_| format!("run {at} of {of}")),
            sensor: sensor.trim().to_owned(),
            sensor_good: scene.sensor.link_good,
            tone: tone(view.tone),
            shape: shape(view),
            cautions: view.stage.shows_cautions(),
            begun: runs.iter().any(|run| !run.shown.is_empty()),
            headline: view.headline,
            next: view.next.clone(),
            note: view.note.clone(),
            trouble: scene.trouble.clone(),
            cylinder: run.map(|(name, _)| cylinder(name)),
            number: digits,
            caption,
            is: kind(scene.number),
            about: about(scene),
            needle: Needle::of(scene),
            runs: runs.iter().map(|r| Run::of(r, top, scene.unit)).collect(),
        }
    }
}

impl Needle {
    fn of(scene: &Scene) -> Self {
        let at = |pressure: Pressure| rounded(share(pressure, scene.full_scale));
        let asked = scene.asked;
        let numbers = marks(scene, NUMBERS).into_iter();
        Self {
            now: at(scene.now.unwrap_or(Pressure::ZERO)),
            target: target(scene).map(at),
            numbers: numbers.map(|(value, text)| (at(value), text)).collect(),
            low: asked.low.map(at),
            high: asked.high.map(at),
            limit: asked.limit.map(at),
            none: (asked == super::Asked::default()).then_some(NO_LIMIT),
        }
    }
}

impl Run {
    fn of(run: &BuildUpScene, top: Pressure, unit: PressureUnit) -> Self {
        let columns = run.shown.iter().map(|level| rounded(share(*level, top)));
        Self {
            name: format!("{} {}", place(&run.cylinder), run.condition.label()),
            symbol: symbol(run.state),
            state: match run.state {
                Mark::Making => "making",
                Mark::Good => "good",
                Mark::Wrong => "wrong",
                Mark::Void => "void",
            },
            columns: columns.collect(),
            value: value(run, unit),
        }
    }
}

const fn tone(tone: Tone) -> &'static str {
    match tone {
        Tone::Calm => "calm",
        Tone::Go => "go",
        Tone::Stop => "stop",
        Tone::Trouble => "trouble",
    }
}

fn shape(view: &View) -> &'static str {
    match view.tone {
        _ if view.headline == "BLEED" => "bleed",
        Tone::Calm => "wait",
        Tone::Go => "turn",
        Tone::Stop => "stop",
        Tone::Trouble => "trouble",
    }
}

const fn kind(number: Number) -> &'static str {
    match number {
        Number::None | Number::Now(_) => "now",
        Number::Needle(_) => "needle",
        Number::Oil(_) => "oil",
        Number::Settled(..) => "settled",
    }
}

/// To a tenth of a thousandth: finer than any screen.
fn rounded(share: f64) -> f64 {
    (share * 1e4 + 0.5).floor() / 1e4
}
