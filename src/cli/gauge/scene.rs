//! Everything that the gauge shows, as data: the screen is a function of it alone.

use crate::engine::Condition;
use crate::leakdown::Place;
use crate::session::View;
use crate::signal::Count;
use crate::units::{Pressure, PressureUnit};

/// The keys by which one of so many places is named where air is heard.
pub const fn place_keys(places: usize) -> &'static str {
    match places {
        0 | 1 => "1",
        2 => "1–2",
        3 => "1–3",
        4 => "1–4",
        5 => "1–5",
        _ => "1–6",
    }
}

/// Everything that the gauge shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// What the engine is called.
    pub engine: String,
    /// Where the session stands.
    pub view: View,
    /// While they are shown: the cautions, each with what it is about.
    pub cautions: Vec<(&'static str, String)>,
    /// The unit of every pressure shown.
    pub unit: PressureUnit,
    /// Where the needle is now.
    pub now: Option<Pressure>,
    /// The large number.
    pub number: Number,
    /// Full scale of the needle.
    pub full_scale: Pressure,
    /// What the engine's manual asks for.
    pub asked: Asked,
    /// The run in hand.
    pub run: RunScene,
    /// The other runs' build-ups, oldest first.
    pub others: Vec<BuildUpScene>,
    /// The sensor and the link to it.
    pub sensor: SensorScene,
    /// Which keys do something now: key and word.
    pub keys: Vec<(&'static str, &'static str)>,
    /// The places of which one may be named, where it is asked where air is heard.
    pub places: Vec<Place>,
    /// What the user is typing: what it is for, and the text so far.
    pub typing: Option<(&'static str, String)>,
    /// Something wrong with keeping or with the sensor, in a sentence.
    pub trouble: Option<String>,
}

/// The large number, and what it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Number {
    /// Nothing to show.
    None,
    /// The pressure now.
    Now(Pressure),
    /// The needle: the highest level held, or what the better strokes keep reaching.
    Needle(Pressure),
    /// Oil that is to be poured now, in cm³.
    Oil(f64),
    /// The settled reading and its expanded uncertainty (k = 2).
    Settled(Pressure, Pressure),
}

/// What the engine's manual asks for.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Asked {
    /// Lowest reading at which the maker still lets it run.
    pub limit: Option<Pressure>,
    /// Lower end of the normal range.
    pub low: Option<Pressure>,
    /// Upper end of the normal range.
    pub high: Option<Pressure>,
}

/// The run in hand.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RunScene {
    /// What a gauge showed after each stroke: the needle, or the top where nothing holds it.
    pub shown: Vec<Pressure>,
    /// How far it has come.
    pub count: Option<Count>,
    /// What is counted: `stroke`, `kick` or `pull`.
    pub counted: &'static str,
    /// The last stroke's top, where nothing holds it.
    pub last: Option<Pressure>,
    /// Cranking speed, and what it counts.
    pub cadence: Option<(f64, &'static str)>,
}

/// A run beside the one in hand.
#[derive(Clone, Debug, PartialEq)]
pub struct BuildUpScene {
    /// Name of the cylinder.
    pub cylinder: String,
    /// The engine's condition.
    pub condition: Condition,
    /// What a gauge showed after each stroke.
    pub shown: Vec<Pressure>,
    /// The reading.
    pub reading: Option<Pressure>,
    /// What became of it.
    pub state: Mark,
}

/// What became of a run, as a word and a symbol.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// It is being made.
    Making,
    /// It counts.
    Good,
    /// It should be made again.
    Wrong,
    /// It does not count.
    Void,
}

/// The sensor and the link to it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SensorScene {
    /// Live, practice or replay, and its name.
    pub name: String,
    /// The link, in a word or two.
    pub link: String,
    /// The link is as it should be.
    pub link_good: bool,
    /// Charge of the sensor's battery in percent.
    pub battery: Option<f64>,
    /// It should be charged.
    pub battery_low: bool,
    /// Packets lost so far.
    pub lost: u64,
}
