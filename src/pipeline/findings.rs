//! Everything a report needs: what was recorded, what was read, what it means.

use super::by_hand::ByHand;
use super::corrected::CorrectionFacts;
use super::soundness::Stretch;
use crate::assess::Assessment;
use crate::engine::{Condition, JobCard};
use crate::leakdown::AirTest;
use crate::protocol::PacketCounts;
use crate::recording::LinkQuality;
use crate::signal::RunResult;
use crate::units::{Pressure, Time};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Everything a report needs. Serialised, this is the JSON that `--json` and the report carry;
/// names end in their unit (`_pa`, `_s`, `_hz`).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Findings {
    /// Always `needlerest-findings`.
    pub format: String,
    /// Version of this format; 2.
    pub version: u32,
    /// Version of the tool that made it.
    pub tool: String,
    /// Where the numbers come from.
    pub recording: RecordingFacts,
    /// The sensor and how it was read.
    pub sensor: SensorFacts,
    /// What was set by hand for the analysis.
    #[serde(default, skip_serializing_if = "ByHand::is_empty")]
    pub set_by_hand: ByHand,
    /// The job card, if there was one.
    pub card: Option<JobCard>,
    /// Every run, in the order made.
    pub runs: Vec<Run>,
    /// Every test with air, in the order made.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub air: Vec<AirTest>,
    /// What they mean.
    pub assessment: Assessment,
}

impl Findings {
    /// Name of the format.
    pub const FORMAT: &str = "needlerest-findings";
    /// Version of the format that is written.
    pub const VERSION: u32 = 2;
}

/// Where the numbers come from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RecordingFacts {
    /// When recording began (UTC, RFC 3339).
    pub started: String,
    /// Length of the recording.
    #[serde(rename = "duration_s")]
    pub duration: Time,
    /// SHA-256 of the recording up to its seal; none if it is not sealed.
    pub seal: Option<String>,
    /// The seal was checked and holds.
    pub seal_holds: bool,
    /// Lines that could not be used and were left out.
    pub damaged_lines: u64,
    /// Lines that are missing.
    #[serde(default)]
    pub missing_lines: u64,
    /// Where lines are damaged or missing; the first hundred stretches.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub damage: Vec<Stretch>,
    /// The user's notes and marks, in order.
    pub notes: Vec<String>,
}

/// The sensor and how it was read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SensorFacts {
    /// Advertised name.
    pub name: String,
    /// Name of the protocol file.
    pub protocol: String,
    /// Accuracy as the protocol file states it, in plain words.
    pub accuracy: String,
    /// How its pressures were corrected, if they were.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub correction: Option<CorrectionFacts>,
    /// Upper end of the sensor's range.
    #[serde(rename = "range_max_pa")]
    pub range_max: Option<Pressure>,
    /// Samples a second, as measured.
    pub samples_per_s: Option<f64>,
    /// How the packets decoded.
    pub packets: PacketCounts,
    /// How the link did, if it was live.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub link: Option<LinkQuality>,
}

/// One run: which cylinder, in which condition, and what was read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Run {
    /// Name of the cylinder.
    pub cylinder: String,
    /// The name was given in the recording; otherwise it follows the card's order.
    pub named: bool,
    /// The engine's condition.
    pub condition: Condition,
    /// It does not count.
    pub void: bool,
    /// Why it does not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub void_reason: Option<String>,
    /// What was read.
    pub result: RunResult,
    /// Every sample of it, where they were asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub samples: Option<Samples>,
}

/// The samples of a run, from its beginning to its end, in order of time: two lists of equal
/// length.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Samples {
    /// When each was taken, in seconds on the recording's clock.
    #[serde(rename = "time_s")]
    pub times: Vec<Time>,
    /// What it read after the zero was subtracted.
    #[serde(rename = "pressure_pa")]
    pub pressures: Vec<Pressure>,
}
