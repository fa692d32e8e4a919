//! From the desk to the scene that the gauge shows.

use super::hands::Hands;
use crate::cli::gauge::{Asked, BuildUpScene, Mark, Number, RunScene, Scene, SensorScene};
use crate::cli::live::desk::Desk;
use crate::cli::live::told::is_low;
use crate::engine::{JobCard, Start};
use crate::session::{Link, MadeRun, RunState, Session, Stage, counted};
use crate::signal::{Live, Rig};
use crate::units::{Pressure, PressureUnit};

/// Less than this is shown as nothing. (Our choice: a fifth of a per cent of a usual reading.)
const STILL: Pressure = Pressure::from_pa(2e3);

/// A warning is shown for so long, in microseconds.
const WARNED_US: u64 = 15_000_000;

/// What stays the same during a visit.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    pub(super) engine: String,
    pub(super) sensor: String,
    pub(super) unit: PressureUnit,
    pub(super) asked: Asked,
    /// How the engine is started, where the card says.
    pub(super) start: Option<Start>,
    /// Crank turns a stroke, where the card says.
    pub(super) turns: Option<f64>,
}

impl Frame {
    pub(super) fn new(card: Option<&JobCard>, sensor: String, unit: PressureUnit) -> Self {
        let limits = card
            .and_then(|card| card.limits.clone())
            .unwrap_or_default();
        Self {
            engine: card.map_or_else(|| "no card".to_owned(), |card| card.engine.label.clone()),
            sensor,
            unit,
            asked: Asked {
                limit: limits.service_limit,
                low: limits.normal_low,
                high: limits.normal_high,
            },
            start: card.and_then(|card| card.engine.start),
            turns: card.map(|card| card.engine.cycle.turns_per_stroke()),
        }
    }
}

/// The scene now.
pub(super) fn scene(desk: &Desk<Session>, frame: &Frame, hands: &Hands) -> Scene {
    let live = desk.pipeline.live();
    let view = desk.guide.view();
    let (link, words) = desk.link();
    let battery = desk.pipeline.decoder().battery();
    let others: Vec<BuildUpScene> = desk.guide.made().iter().filter_map(beside).collect();
    Scene {
        engine: frame.engine.clone(),
        unit: frame.unit,
        now: live.pressure,
        number: number(desk, &live),
        full_scale: full_scale(frame, &live, &others),
        asked: frame.asked,
        run: in_hand(desk, &live, frame),
        others,
        sensor: SensorScene {
            name: frame.sensor.clone(),
            link: words,
            link_good: link == Link::Up,
            battery,
            battery_low: battery.is_some_and(is_low),
            lost: desk.pipeline.packet_counts().lost,
        },
        cautions: match view.stage {
            Stage::Cautions => desk.guide.cautions(),
            _ => Vec::new(),
        },
        keys: keys(desk, hands),
        typing: hands.typing(),
        trouble: trouble(desk, hands),
        view,
    }
}

/// What a key that was pressed would do; else what is wrong with disk or sensor; else the last
/// warning, for a while.
fn trouble(desk: &Desk<Session>, hands: &Hands) -> Option<String> {
    let warned = || {
        let (at_us, text) = desk.warned()?;
        (desk.now_us() <= at_us + WARNED_US).then(|| text.to_owned())
    };
    hands
        .armed_words()
        .or_else(|| desk.keeping_trouble().map(str::to_owned))
        .or_else(|| desk.sensor_trouble())
        .or_else(warned)
}

/// The keys that matter now: none for what this engine has not, or may not be given.
fn keys(desk: &Desk<Session>, hands: &Hands) -> Vec<(&'static str, &'static str)> {
    let session = &desk.guide;
    let mut keys = hands.keys(session.stage());
    keys.retain(|(key, _)| match *key {
        "t" => !session.has_no_throttle(),
        "o" => session.may_be_oiled(),
        _ => true,
    });
    for (key, what) in &mut keys {
        if *key == "Space" {
            *what = session.turns();
        }
    }
    if session.can_undo() && !desk.replayed() {
        keys.insert(0, ("u", "undo"));
    }
    keys
}

fn number(desk: &Desk<Session>, live: &Live) -> Number {
    let holds = matches!(desk.guide.stage(), Stage::Hold | Stage::Bleed);
    if let Some(cm3) = desk.guide.oil_to_pour() {
        return Number::Oil(cm3);
    }
    match (desk.guide.settled(), live.needle, live.pressure) {
        (Some(reading), _, _) if holds => Number::Settled(reading.value, reading.expanded),
        (_, Some(needle), _) => Number::Needle(needle),
        // A number that is to be read from afar must not flicker about zero.
        (_, _, Some(now)) if now.abs() < STILL => Number::Now(Pressure::ZERO),
        (_, _, Some(now)) => Number::Now(now),
        _ => Number::None,
    }
}

fn in_hand(desk: &Desk<Session>, live: &Live, frame: &Frame) -> RunScene {
    let cadence = live.cadence.map(|rate| match frame.turns {
        Some(turns) => (rate.per_min() * turns, "rpm"),
        None => (rate.per_min(), "strokes/min"),
    });
    // Strokes that are only due are counted on by time: after STOP nobody waits for them.
    let over = matches!(desk.guide.stage(), Stage::Hold | Stage::Bleed);
    let count = live.count.filter(|_| !over);
    RunScene {
        shown: desk.shown().to_vec(),
        count,
        counted: count.map_or("stroke", |count| counted(count.turned, frame.start)),
        last: live.last.filter(|_| live.rig == Some(Rig::Following)),
        cadence,
    }
}

fn beside(made: &MadeRun) -> Option<BuildUpScene> {
    let state = match made.state {
        RunState::Good => Mark::Good,
        RunState::Wrong(_) => Mark::Wrong,
        RunState::Void(_) => return None,
    };
    Some(BuildUpScene {
        cylinder: made.cylinder.clone(),
        condition: made.condition,
        shown: made.shown.clone(),
        reading: made.reading.as_ref().map(|reading| reading.value),
        state,
    })
}

/// Wide enough for what the card asks for and for everything seen; it grows by halves, so that it
/// does not creep.
fn full_scale(frame: &Frame, live: &Live, others: &[BuildUpScene]) -> Pressure {
    let asked = frame.asked.high.or(frame.asked.low).or(frame.asked.limit);
    let mut full = asked.map_or(Pressure::from_kpa(1400.0), |high| high * 1.25);
    let seen = others.iter().filter_map(|other| other.reading);
    let highest = seen
        .chain(live.last)
        .chain(live.pressure)
        .fold(Pressure::ZERO, Pressure::max);
    while full < highest * 1.02 && full.is_finite() && highest.is_finite() {
        full = full * 1.5;
    }
    full
}
