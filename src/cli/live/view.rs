//! What of the gauge's scene comes from the desk alone, whoever guides.

use super::desk::{Desk, Guide};
use super::told::is_low;
use crate::cli::gauge::{Asked, BuildUpScene, Number, RunScene, SensorScene};
use crate::engine::{JobCard, Start};
use crate::session::{Link, counted};
use crate::signal::{Count, Live, Rig};
use crate::units::{Pressure, PressureUnit};

/// Less than this is shown as nothing. (Our choice: a fifth of a per cent of a usual reading.)
const STILL: Pressure = Pressure::from_pa(2e3);

/// What stays the same while a sensor is watched.
#[derive(Clone, Debug)]
pub(in crate::cli) struct Frame {
    pub(in crate::cli) engine: String,
    pub(in crate::cli) sensor: String,
    pub(in crate::cli) unit: PressureUnit,
    pub(in crate::cli) asked: Asked,
    /// How the engine is started, where the card says.
    pub(in crate::cli) start: Option<Start>,
    /// Crank turns a stroke, where the card says.
    pub(in crate::cli) turns: Option<f64>,
}

impl Frame {
    pub(in crate::cli) fn new(card: Option<&JobCard>, sensor: String, unit: PressureUnit) -> Self {
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

/// The sensor and the link to it.
pub(in crate::cli) fn sensor<G: Guide>(desk: &Desk<G>, frame: &Frame) -> SensorScene {
    let (link, words) = desk.link();
    let battery = desk.pipeline.decoder().battery();
    SensorScene {
        name: frame.sensor.clone(),
        link: words,
        link_good: link == Link::Up,
        battery,
        battery_low: battery.is_some_and(is_low),
        lost: desk.pipeline.packet_counts().lost,
    }
}

/// What a person would read off a gauge now.
pub(in crate::cli) fn read_off(live: &Live) -> Number {
    match (live.needle, live.pressure) {
        (Some(needle), _) => Number::Needle(needle),
        // A number that is to be read from afar must not flicker about zero.
        (_, Some(now)) if now.abs() < STILL => Number::Now(Pressure::ZERO),
        (_, Some(now)) => Number::Now(now),
        _ => Number::None,
    }
}

/// The run in hand, as far as it has come.
pub(in crate::cli) fn in_hand<G: Guide>(
    desk: &Desk<G>,
    live: &Live,
    frame: &Frame,
    count: Option<Count>,
) -> RunScene {
    let cadence = live.cadence.map(|rate| match frame.turns {
        Some(turns) => (rate.per_min() * turns, "rpm"),
        None => (rate.per_min(), "strokes/min"),
    });
    RunScene {
        shown: desk.shown().to_vec(),
        count,
        counted: count.map_or("stroke", |count| counted(count.turned, frame.start)),
        last: live.last.filter(|_| live.rig == Some(Rig::Following)),
        cadence,
    }
}

/// Wide enough for what the card asks for and for everything seen; it grows by halves, so that it
/// does not creep.
pub(in crate::cli) fn full_scale(frame: &Frame, live: &Live, others: &[BuildUpScene]) -> Pressure {
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
