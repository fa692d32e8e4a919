//! What the analysis of a run says.

use super::build_up::Turned;
use crate::units::{Pressure, Rate, Time};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How the sensor sits at the plug hole.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Rig {
    /// Behind a check valve: the reading climbs in steps and stays until it is bled.
    Holding,
    /// No check valve: the reading rises and falls with each stroke.
    Following,
}

/// One compression stroke of the cylinder under test.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Stroke {
    /// 1 for the first stroke of the run.
    pub number: u32,
    /// When the peak (following rig) or the step (holding rig) was, on the stream's clock.
    #[serde(rename = "time_s")]
    pub time: Time,
    /// Following rig: the highest pressure of the stroke. Holding rig: the level held after it.
    #[serde(rename = "peak_pa")]
    pub peak: Pressure,
    /// How much higher than the stroke before (than zero, for the first).
    #[serde(rename = "rise_pa")]
    pub rise: Pressure,
    /// The needle after it: the highest level held, or without a check valve the level that the
    /// better strokes so far keep reaching (the median of the better half).
    #[serde(rename = "needle_pa")]
    pub needle: Pressure,
    /// Which stroke, kick or pull it belongs to, with those that were due and lifted nothing; 1
    /// for the first.
    pub count: u32,
    /// Time since the stroke before; none for the first.
    #[serde(rename = "interval_s")]
    pub interval: Option<Time>,
    /// The most by which a slow sample rate may have cut the peak off.
    #[serde(rename = "cut_off_pa")]
    pub cut_off: Pressure,
    /// Packets are missing around this stroke, so its peak may be too low.
    pub packets_missing: bool,
    /// The sensor was at the end of its range.
    pub clipped: bool,
}

impl Stroke {
    /// What a gauge showed: behind a check valve the needle, which only climbs; without one the
    /// stroke's own top.
    pub fn shown(&self, rig: Option<Rig>) -> Pressure {
        if rig == Some(Rig::Following) {
            self.peak
        } else {
            self.needle
        }
    }
}

/// The line along which the needle climbs: a stroke leaves a share of what was left before it. All
/// uncertainties are standard uncertainties.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BuildUp {
    /// Where the line leads to.
    #[serde(rename = "plateau_pa")]
    pub plateau: Pressure,
    /// Standard uncertainty of the plateau from the line alone.
    #[serde(rename = "plateau_uncertainty_pa")]
    pub plateau_uncertainty: Pressure,
    /// What is left to climb after a stroke, as a share of what was left before it (0 to 1).
    pub ratio: f64,
    /// Standard uncertainty of [`Self::ratio`].
    pub ratio_uncertainty: f64,
    /// First stroke's (kick's, pull's) level as a share of the plateau.
    pub first_share: f64,
    /// Standard uncertainty of [`Self::first_share`].
    pub first_share_uncertainty: f64,
    /// How many strokes, kicks or pulls the line rests on.
    pub strokes: u32,
}

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// The needle stopped climbing while cranking went on: STOP was (or would have been) called.
    Settled,
    /// Cranking ended before the call, but the last strokes, kicks or pulls had lifted the needle by
    /// less than the tolerance.
    AtRest,
    /// Cranking ended while the needle was still climbing.
    StillClimbing,
    /// No reading can be given; the flags say why.
    NoReading,
}

/// What a call of STOP stands on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Call {
    /// When it was called, on the stream's clock.
    #[serde(rename = "time_s")]
    pub time: Time,
    /// Number of the stroke, kick or pull with which it was called, with those that were due and
    /// lifted nothing.
    pub count: u32,
    /// How many of the last ones were only due, not seen: what lifts nothing behind a check valve
    /// leaves no trace, so the call assumes that cranking went on for their time.
    pub unseen: u32,
}

/// One part of a reading's uncertainty (GUM: one line of the budget).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Contribution {
    /// What it comes from: `sensor accuracy`, `resolution`, `noise`, `zero`, `repeat`, `sample rate`.
    pub source: String,
    /// Standard uncertainty.
    #[serde(rename = "standard_pa")]
    pub standard: Pressure,
    /// Shared by all runs made with this sensor, so that it largely cancels in a comparison.
    pub common: bool,
}

/// The number a mechanic would note down, with how well it is known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Reading {
    /// The needle at the end, gauge.
    #[serde(rename = "value_pa")]
    pub value: Pressure,
    /// Expanded uncertainty, k = 2, about 95 %: what the needle would read if the same person did
    /// the same again.
    #[serde(rename = "expanded_pa")]
    pub expanded: Pressure,
    /// As [`Self::expanded`], without what all runs of the same sensor share: what counts when
    /// two cylinders are compared.
    #[serde(rename = "expanded_relative_pa")]
    pub expanded_relative: Pressure,
    /// Still climbing only: where the needle was heading. The value is then "at least".
    #[serde(rename = "heading_pa")]
    pub heading: Option<Pressure>,
    /// The parts of the uncertainty.
    pub budget: Vec<Contribution>,
}

impl Reading {
    /// The needle was still climbing: the true level is at least this.
    pub fn is_at_least(&self) -> bool {
        self.heading.is_some()
    }
}

/// The level the sensor shows with nothing on it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Zero {
    /// Subtracted from every sample.
    #[serde(rename = "level_pa")]
    pub level: Pressure,
    /// Its standard uncertainty.
    #[serde(rename = "standard_pa")]
    pub standard: Pressure,
    /// Measured before the first stroke; otherwise assumed, and flagged.
    pub measured: bool,
}

/// Cranking speed from the spacing of strokes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Cadence {
    /// Median stroke rate.
    #[serde(rename = "median_hz")]
    pub median: Rate,
    /// Slowest stroke rate.
    #[serde(rename = "slowest_hz")]
    pub slowest: Rate,
    /// Fastest stroke rate.
    #[serde(rename = "fastest_hz")]
    pub fastest: Rate,
    /// Median absolute deviation of the intervals over their median; 0 is perfectly even.
    pub unevenness: f64,
    /// Intervals so long that nobody can have been cranking.
    pub pauses: u32,
}

/// How a held reading falls when nobody cranks (the tester's own leak).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Droop {
    /// Fall per second.
    #[serde(rename = "per_second_pa")]
    pub per_second: Pressure,
    /// Its standard uncertainty.
    #[serde(rename = "per_second_standard_pa")]
    pub per_second_standard: Pressure,
    /// How long it was watched.
    #[serde(rename = "watched_s")]
    pub watched: Time,
}

/// Something about the *test* (not the engine) that a reader must know.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "flag", rename_all = "kebab-case")]
pub enum Flag {
    /// No stroke was found.
    NoStrokes,
    /// Cranking ended while the needle was still climbing.
    StoppedEarly {
        /// Strokes, kicks or pulls made.
        strokes: u32,
    },
    /// The sensor was never seen at rest with nothing on it.
    NotZeroed,
    /// Zero was far from where the protocol file says it should be.
    ZeroOffset {
        /// By how much.
        #[serde(rename = "offset_pa")]
        offset: Pressure,
    },
    /// The sensor reached the end of its range.
    Clipped {
        /// How many samples.
        samples: u64,
    },
    /// The sample rate is too slow for a following rig at this cadence.
    Undersampled {
        /// The most by which peaks may be too low, as a share of the peak.
        cut_off_share: f64,
    },
    /// Packets were lost within strokes.
    LostInStroke {
        /// How many strokes are touched.
        strokes: u32,
    },
    /// Cranking was uneven.
    UnevenCadence {
        /// See [`Cadence::unevenness`].
        unevenness: f64,
    },
    /// Cranking was slow.
    SlowCadence {
        /// Median stroke rate.
        #[serde(rename = "median_hz")]
        median: Rate,
    },
    /// The held reading falls: the tester leaks.
    TesterLeaks {
        /// Fall per second.
        #[serde(rename = "per_second_pa")]
        per_second: Pressure,
    },
    /// Too few strokes to read anything from.
    TooFewStrokes {
        /// Strokes made.
        strokes: u32,
    },
    /// Every stroke is low from the first on, as with a shut throttle or a choke in the way.
    ThrottleMayBeShut {
        /// The reading.
        #[serde(rename = "reading_pa")]
        reading: Pressure,
    },
    /// The reading builds up slowly: the hose is large for this engine.
    SlowBuildUp {
        /// First stroke as a share of the plateau.
        first_share: f64,
    },
    /// A settled reading was taken back because the pressure climbed again.
    Withdrawn {
        /// How often.
        times: u32,
    },
    /// How the sensor sits could not be told from the data.
    RigUnclear,
    /// Samples that cannot be true were left out: not a number, beyond any range, or with a time
    /// that runs backwards.
    BadSamples {
        /// How many.
        samples: u64,
    },
    /// More strokes than are kept; the later ones were analysed but are not listed.
    StrokesNotListed {
        /// How many.
        strokes: u32,
    },
}

/// How far the test itself can be trusted, apart from what it says about the engine.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Grade {
    /// Nothing to object to.
    Good,
    /// Usable; the flags say what to mind.
    Fair,
    /// Do not rest a decision on it: repeat the run.
    Poor,
}

/// All that the analysis says about one run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RunResult {
    /// First sample, on the stream's clock.
    #[serde(rename = "started_s")]
    pub started: Time,
    /// Last sample.
    #[serde(rename = "ended_s")]
    pub ended: Time,
    /// How the sensor sat, where it could be told or was given.
    pub rig: Option<Rig>,
    /// The zero that was subtracted.
    pub zero: Zero,
    /// Standard deviation of the sensor's noise at rest.
    #[serde(rename = "noise_pa")]
    pub noise: Pressure,
    /// Every stroke, in order.
    pub strokes: Vec<Stroke>,
    /// How the engine was turned, as the strokes show it.
    pub turned: Turned,
    /// How many strokes (or kicks, or pulls) the needle had to climb, seen or due.
    pub count: u32,
    /// The line along which the needle climbed.
    pub build_up: Option<BuildUp>,
    /// How it ended.
    pub outcome: Outcome,
    /// What the call of STOP stands on; settled only.
    pub call: Option<Call>,
    /// The reading, unless [`Outcome::NoReading`].
    pub reading: Option<Reading>,
    /// Cranking speed, from two strokes on.
    pub cadence: Option<Cadence>,
    /// Fall of the held reading, where it could be watched.
    pub droop: Option<Droop>,
    /// What to mind about the test.
    pub flags: Vec<Flag>,
    /// The test's own grade.
    pub grade: Grade,
}

impl RunResult {
    /// The last stroke that the call of STOP stands on; none where it was not called.
    pub fn stroke_of_call(&self) -> Option<&Stroke> {
        let count = self.call?.count;
        self.strokes
            .iter()
            .rev()
            .find(|stroke| stroke.count <= count)
    }
}

#[cfg(test)]
mod tests;
