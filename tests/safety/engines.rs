//! Every kind of engine with every sensor.

use needlerest::engine::{Cycle, Decompressor, EngineKind, Fuel, Ignition, JobCard, Rating, Start};
use needlerest::session::Setup;
use needlerest::units::{Pressure, PressureUnit};

/// An engine with two cylinders, and the top of the sensor's range.
#[derive(Clone, Copy, Debug)]
pub struct Engine {
    pub ignition: Ignition,
    pub cycle: Cycle,
    pub start: Option<Start>,
    pub fuel: Option<Fuel>,
    pub decompressor: Option<Decompressor>,
    pub top_bar: Option<f64>,
}

const STARTS: [Option<Start>; 5] = [
    None,
    Some(Start::Electric),
    Some(Start::Kick),
    Some(Start::PullCord),
    Some(Start::HandCrank),
];
const FUELS: [Option<Fuel>; 3] = [None, Some(Fuel::Carburettor), Some(Fuel::Injection)];
const DECOMPRESSORS: [Option<Decompressor>; 4] = [
    None,
    Some(Decompressor::None),
    Some(Decompressor::Manual),
    Some(Decompressor::Automatic),
];
const TOPS: [Option<f64>; 5] = [None, Some(3.0), Some(16.0), Some(25.0), Some(70.0)];

/// Ignition × cycle × start × fuel × decompressor × range of the sensor.
pub fn all() -> Vec<Engine> {
    let mut all = Vec::new();
    for ignition in [Ignition::Spark, Ignition::Compression] {
        for cycle in [Cycle::FourStroke, Cycle::TwoStroke] {
            for start in STARTS {
                for fuel in FUELS {
                    for decompressor in DECOMPRESSORS {
                        all.extend(TOPS.map(|top_bar| Engine {
                            ignition,
                            cycle,
                            start,
                            fuel,
                            decompressor,
                            top_bar,
                        }));
                    }
                }
            }
        }
    }
    all
}

impl Engine {
    pub fn diesel(&self) -> bool {
        self.ignition == Ignition::Compression
    }

    pub fn two_stroke(&self) -> bool {
        self.cycle == Cycle::TwoStroke
    }

    pub fn automatic(&self) -> bool {
        self.decompressor == Some(Decompressor::Automatic)
    }

    /// What whoever turns it is told to do.
    pub fn verb(&self) -> &'static str {
        match self.start {
            Some(Start::Kick) => "kick",
            Some(Start::PullCord) => "pull",
            Some(Start::Electric | Start::HandCrank) | None => "crank",
        }
    }

    /// 500 cm³ and 10:1, a chamber of 55.6 cm³; a diesel 21:1, a chamber of 25 cm³.
    pub fn card(&self) -> JobCard {
        let word = |value: serde_json::Value| value.to_string();
        let mut text = format!(
            "format = \"needlerest-card\"\nversion = 1\n[engine]\nlabel = \"Wren\"\nbore_mm = \
             86.0\nstroke_mm = 86.1\ncycle = {}\nignition = {}\ncompression_ratio = {}\n",
            word(serde_json::json!(self.cycle)),
            word(serde_json::json!(self.ignition)),
            if self.diesel() { 21.0 } else { 10.0 },
        );
        let optional = [
            ("start", self.start.map(|v| serde_json::json!(v))),
            ("fuel", self.fuel.map(|v| serde_json::json!(v))),
            (
                "decompressor",
                self.decompressor.map(|v| serde_json::json!(v)),
            ),
        ];
        for (key, value) in optional {
            if let Some(value) = value {
                text = format!("{text}{key} = {}\n", word(value));
            }
        }
        text += "[[cylinder]]\nname = \"1\"\n[[cylinder]]\nname = \"2\"\n";
        JobCard::for_cranking(&text).expect("a card")
    }

    pub fn top(&self) -> Option<Pressure> {
        self.top_bar
            .map(|top| Pressure::new(top, PressureUnit::Bar))
    }

    pub fn setup(&self) -> Setup {
        let card = self.card();
        Setup {
            kind: EngineKind::of(Some(&card)),
            rating: Rating::of(Some(&card), self.top()),
            ..crate::bench::setup(&["1", "2"])
        }
    }
}
