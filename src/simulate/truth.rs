//! What was true in a simulated run.

use super::air_test::AirTruth;
use super::spec::{Cylinder, Gasket, Radio, Sensor, Tester};
use super::strokes::TrueStroke;
use crate::engine::Condition;
use crate::units::{Pressure, Time};
use serde::{Deserialize, Serialize};

/// Share of the plateau within which a reading counts as come to it.
const WITHIN: f64 = 0.01;

/// What was true in a run. Times are on the simulation's clock: from the run's start, or in a
/// whole visit from the start of the recording.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RunTruth {
    /// The cylinder under test.
    pub cylinder: String,
    /// Its condition.
    pub condition: Condition,
    /// The run begins.
    #[serde(rename = "begins_s")]
    pub begins: Time,
    /// Cranking begins.
    #[serde(rename = "cranking_from_s")]
    pub cranking_from: Time,
    /// Cranking ends.
    #[serde(rename = "cranking_to_s")]
    pub cranking_to: Time,
    /// The bleed valve is opened.
    #[serde(rename = "bled_at_s")]
    pub bled_at: Time,
    /// The run ends.
    #[serde(rename = "ends_s")]
    pub ends: Time,
    /// Every compression stroke.
    pub strokes: Vec<TrueStroke>,
    /// Gauge pressure that this tester comes to after very many strokes, at its peaks.
    #[serde(rename = "plateau_pa")]
    pub plateau: Pressure,
    /// As [`Self::plateau`], between the strokes (holding rig: the level held).
    #[serde(rename = "plateau_held_pa")]
    pub plateau_held: Pressure,
    /// Gauge pressure that a gauge without any volume would show.
    #[serde(rename = "perfect_gauge_pa")]
    pub perfect_gauge: Pressure,
    /// Number of the first stroke at which the pressure at the sensor came within tolerance of
    /// the plateau (1 % of it or twice the sensor's resolution); none if it never did.
    pub oracle_stroke: Option<u32>,
}

/// What was true in a whole visit: the runs, and everything that was put in.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Truth {
    /// Always `needlerest-truth`.
    pub format: &'static str,
    /// Version of this format; 1.
    pub version: u32,
    /// What the visit is about; invented.
    pub about: String,
    /// Seed of all that is random.
    pub seed: u64,
    /// The runs in order.
    pub runs: Vec<RunTruth>,
    /// The tests with air in order.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub air_tests: Vec<AirTruth>,
    /// The cylinders with their leaks, in effective areas.
    pub cylinders: Vec<Cylinder>,
    /// Leaks of the head gasket.
    pub gaskets: Vec<Gasket>,
    /// Clearance volume of the first cylinder, without adapter and oil.
    pub clearance_cm3: f64,
    /// The tester and its faults.
    pub tester: Tester,
    /// The sensor and its faults.
    pub sensor: Sensor,
    /// The radio and its faults.
    pub radio: Radio,
    /// What happened to the packets.
    pub packets: PacketTruth,
}

/// What happened to the packets on their way.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct PacketTruth {
    /// Sent by the sensor.
    pub sent: u64,
    /// Lost on the way.
    pub lost: u64,
    /// Arrived twice.
    pub repeated: u64,
    /// Arrived after their successor.
    pub reordered: u64,
}

/// See [`RunTruth::oracle_stroke`]; `resolution` in Pa.
pub(super) fn oracle_stroke(
    strokes: &[TrueStroke],
    plateau: Pressure,
    resolution: f64,
) -> Option<u32> {
    let tolerance = (WITHIN * plateau.pa()).max(2.0 * resolution);
    strokes
        .iter()
        .position(|s| plateau.pa() - s.shown_peak.pa() <= tolerance)
        .map(|at| at as u32 + 1)
}
