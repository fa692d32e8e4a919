//! From the desk to the scene that the gauge shows.

use super::desk::Desk;
use super::hands::Hands;
use crate::cli::gauge::{Asked, BuildUpScene, Mark, Number, RunScene, Scene, SensorScene};
use crate::engine::{JobCard, Start};
use crate::session::{Link, MadeRun, RunState, Stage, counted};
use crate::signal::{Live, Rig};
use crate::units::{Pressure, PressureUnit};

/// Less than this is shown as nothing. (Our choice: a fifth of a per cent of a usual reading.)
const STILL: Pressure = Pressure::from_pa(2e3);

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
pub(super) fn scene(desk: &Desk, frame: &Frame, hands: &Hands) -> Scene {
    let live = desk.pipeline.live();
    let view = desk.session.view();
    let (link, words, rssi) = desk.link();
    let link_text = match rssi {
        Some(dbm) => format!("{words} {dbm} dBm"),
        None => words.to_owned(),
    };
    let others: Vec<BuildUpScene> = desk.session.made().iter().filter_map(beside).collect();
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
            link: link_text,
            link_good: link == Link::Up,
            battery: desk.pipeline.decoder().battery(),
            lost: desk.pipeline.packet_counts().lost,
        },
        cautions: match view.stage {
            Stage::Cautions => desk.session.cautions(),
            _ => Vec::new(),
        },
        keys: keys(desk, hands),
        typing: hands.typing(),
        trouble: desk
            .keeping_trouble()
            .map(str::to_owned)
            .or_else(|| hands.armed_words()),
        view,
    }
}

/// The keys that matter now: none for what this engine has not, or may not be given.
fn keys(desk: &Desk, hands: &Hands) -> Vec<(&'static str, &'static str)> {
    let session = &desk.session;
    let mut keys = hands.keys(session.stage());
    keys.retain(|(key, _)| match *key {
        "t" => !session.has_no_throttle(),
        "o" => session.may_be_oiled(),
        _ => true,
    });
    keys
}

fn number(desk: &Desk, live: &Live) -> Number {
    let holds = matches!(desk.session.stage(), Stage::Hold | Stage::Bleed);
    match (desk.session.settled(), live.needle, live.pressure) {
        (Some(reading), _, _) if holds => Number::Settled(reading.value, reading.expanded),
        (_, Some(needle), _) => Number::Needle(needle),
        // A number that is to be read from afar must not flicker about zero.
        (_, _, Some(now)) if now.abs() < STILL => Number::Now(Pressure::ZERO),
        (_, _, Some(now)) => Number::Now(now),
        _ => Number::None,
    }
}

fn in_hand(desk: &Desk, live: &Live, frame: &Frame) -> RunScene {
    let cadence = live.cadence.map(|rate| match frame.turns {
        Some(turns) => (rate.per_min() * turns, "rpm"),
        None => (rate.per_min(), "strokes/min"),
    });
    RunScene {
        shown: desk.shown().to_vec(),
        count: live.count,
        counted: live
            .count
            .map_or("stroke", |count| counted(count.turned, frame.start)),
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
