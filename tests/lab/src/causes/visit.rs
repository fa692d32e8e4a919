//! A visit as it was read, and what is true of the engine.

use needlerest::assess::RunInput;
use needlerest::engine::{Condition, JobCard, Start};
use needlerest::signal::RunResult;
use serde::{Deserialize, Serialize};

/// What is the matter with a cylinder, with the engine or with the test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Cause {
    Sound,
    Rings,
    Valve,
    Gasket,
    Deposits,
    Timing,
    Throttle,
    Slow,
    TesterLeak,
}

impl Cause {
    pub const ALL: [Self; 9] = [
        Self::Sound,
        Self::Rings,
        Self::Valve,
        Self::Gasket,
        Self::Deposits,
        Self::Timing,
        Self::Throttle,
        Self::Slow,
        Self::TesterLeak,
    ];

    /// Whether it is a hole in the cylinder.
    pub const fn is_leak(self) -> bool {
        matches!(self, Self::Rings | Self::Valve | Self::Gasket)
    }

    /// Whether it is a matter of the test, not of the engine.
    pub const fn is_of_test(self) -> bool {
        matches!(self, Self::Throttle | Self::Slow | Self::TesterLeak)
    }

    pub const fn label(self) -> &'static str {
        match self {
            Self::Sound => "sound",
            Self::Rings => "rings",
            Self::Valve => "valve",
            Self::Gasket => "gasket",
            Self::Deposits => "deposits",
            Self::Timing => "timing",
            Self::Throttle => "throttle",
            Self::Slow => "slow",
            Self::TesterLeak => "tester",
        }
    }
}

/// A cylinder's truth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Known {
    pub name: String,
    pub cause: Cause,
    /// What else leaks in it.
    #[serde(default)]
    pub also: Option<Cause>,
    /// Share of the reading that it would give if nothing were the matter, taken away by what is
    /// the matter; negative where it adds.
    pub takes: f64,
    /// Everything that leaks, mm²; none where it is not told.
    #[serde(default)]
    pub leak_mm2: Option<f64>,
}

/// A run as it was read.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Read {
    pub cylinder: String,
    pub condition: Condition,
    pub result: RunResult,
}

/// A visit as it was read.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Visit {
    pub card: JobCard,
    pub reads: Vec<Read>,
    pub cylinders: Vec<Known>,
    pub cause: Cause,
    /// The card states a wrong figure.
    #[serde(default)]
    pub card_wrong: bool,
}

/// From this share of the sound reading on a leak makes a cylinder bad.
pub const BAD_FROM: f64 = 0.18;

impl Visit {
    /// The runs as the assessment takes them.
    pub fn inputs(&self) -> Vec<RunInput<'_>> {
        let reads = self.reads.iter().enumerate();
        reads
            .map(|(index, read)| RunInput {
                index,
                cylinder: read.cylinder.clone(),
                condition: read.condition,
                void: false,
                result: &read.result,
            })
            .collect()
    }

    /// Turned by a kick lever or a cord.
    pub fn kicked(&self) -> bool {
        matches!(self.card.engine.start, Some(Start::Kick | Start::PullCord))
    }

    /// Whether a cylinder has a reading in a condition.
    pub fn has(&self, cylinder: &str, wet: bool) -> bool {
        self.reads.iter().any(|read| {
            read.cylinder == cylinder
                && (read.condition == Condition::Wet) == wet
                && read.result.reading.is_some()
        })
    }

    /// Whether engine and test are sound.
    pub fn is_sound(&self) -> bool {
        self.cylinders
            .iter()
            .all(|known| known.cause == Cause::Sound)
    }

    /// Whether some cylinder is bad.
    pub fn is_bad(&self) -> bool {
        self.cylinders.iter().any(Known::is_bad)
    }
}

impl Known {
    pub fn is_bad(&self) -> bool {
        self.cause.is_leak() && self.takes >= BAD_FROM
    }
}
