//! A run to be scored: what the sensor told, and what was true.

use needlerest::signal::{Rig, Sample, Settings, Turned};

/// Who turns the engine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Who {
    Starter,
    HandCrank,
    Kicks,
}

impl Who {
    pub const ALL: [Self; 3] = [Self::Starter, Self::HandCrank, Self::Kicks];

    pub const fn label(self) -> &'static str {
        match self {
            Self::Starter => "starter",
            Self::HandCrank => "hand crank",
            Self::Kicks => "kicks, pulls",
        }
    }

    /// What a card that names it tells the analysis.
    pub const fn turned(self) -> Turned {
        match self {
            Self::Kicks => Turned::InKicks,
            Self::Starter => Turned::ByStarter,
            Self::HandCrank => Turned::ByHand,
        }
    }
}

/// A true stroke: when, and the highest pressure shown by it (s, Pa gauge).
pub type True = (f64, f64);

/// A run cut short: what the sensor told, and how long (s) it was cranked.
#[derive(Clone, Debug)]
pub struct LetGo {
    pub samples: Vec<Sample>,
    pub strokes: usize,
}

/// A run to be scored.
#[derive(Clone, Debug)]
pub struct Case {
    pub index: u64,
    pub who: Who,
    pub rig: Rig,
    pub odd: bool,
    pub wet: bool,
    /// For listing only.
    pub about: String,
    pub settings: Settings,
    pub samples: Vec<Sample>,
    /// When cranking ended (s).
    pub ended: f64,
    /// The strokes of this run and, on and on, those that the same person makes after it.
    pub strokes: Vec<True>,
    /// The same person does the same again.
    pub repeats: Vec<Vec<True>>,
    pub let_go: Vec<LetGo>,
}
