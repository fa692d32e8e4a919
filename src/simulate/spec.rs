//! What is simulated: the engine, its faults, who turns it, the tester, the sensor, the radio.
//!
//! All of it can be written in a recipe (TOML). Names end in their unit. Areas of leaks and
//! valves are effective areas: discharge coefficient times geometric area.

use crate::engine::{Condition, Cycle};
use serde::{Deserialize, Serialize};

/// An engine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Engine {
    /// Working cycle.
    pub cycle: Cycle,
    /// Bore.
    pub bore_mm: f64,
    /// Stroke.
    pub stroke_mm: f64,
    /// Connecting rod, centre to centre.
    pub rod_mm: f64,
    /// Offset of the piston pin.
    #[serde(default)]
    pub pin_offset_mm: f64,
    /// Geometric compression ratio (two-stroke: of the full stroke).
    pub compression_ratio: f64,
    /// Four-stroke: its valves.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub valves: Option<Valves>,
    /// Two-stroke: its ports.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ports: Option<Ports>,
    /// Effective area of the open throttle, for each cylinder.
    pub throttle_mm2: f64,
    /// Volume between throttle and valve (or reed), for each cylinder.
    pub manifold_cm3: f64,
    /// Moment of inertia of all that turns, at the crank.
    pub inertia_kg_m2: f64,
    /// Friction mean effective pressure at 80 °C.
    pub friction_kpa: f64,
    /// Its cylinders.
    #[serde(rename = "cylinder")]
    pub cylinders: Vec<Cylinder>,
    /// Leaks of the head gasket between two cylinders.
    #[serde(default, rename = "gasket", skip_serializing_if = "Vec::is_empty")]
    pub gaskets: Vec<Gasket>,
}

/// Valve timing in crank degrees and effective areas at full lift.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Valves {
    /// Intake opens, before top dead centre.
    pub intake_opens_btdc: f64,
    /// Intake closes, after bottom dead centre.
    pub intake_closes_abdc: f64,
    /// Exhaust opens, before bottom dead centre.
    pub exhaust_opens_bbdc: f64,
    /// Exhaust closes, after top dead centre.
    pub exhaust_closes_atdc: f64,
    /// Effective area of the intake valve at full lift.
    pub intake_mm2: f64,
    /// Effective area of the exhaust valve at full lift.
    pub exhaust_mm2: f64,
}

/// Ports of a two-stroke: where the piston begins to uncover them (crank degrees), and their
/// effective widths.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ports {
    /// Exhaust port opens, after top dead centre.
    pub exhaust_opens_atdc: f64,
    /// Transfer ports open, after top dead centre.
    pub transfer_opens_atdc: f64,
    /// Effective width of the exhaust port.
    pub exhaust_width_mm: f64,
    /// Effective width of all transfer ports.
    pub transfer_width_mm: f64,
    /// Largest over smallest crankcase volume.
    pub crankcase_ratio: f64,
    /// Effective area of the open reed valve.
    pub reed_mm2: f64,
}

/// A cylinder and what is wrong with it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cylinder {
    /// Its name.
    pub name: String,
    /// Crank angle by which it fires after the first cylinder, in degrees.
    #[serde(default)]
    pub fires_deg: f64,
    /// Leak past the rings; never quite nothing in a real engine.
    #[serde(default)]
    pub ring_leak_mm2: f64,
    /// Leak of the closed intake valve (two-stroke: of the crankcase seals).
    #[serde(default)]
    pub intake_leak_mm2: f64,
    /// Leak of the closed exhaust valve (two-stroke: of the head's joint).
    #[serde(default)]
    pub exhaust_leak_mm2: f64,
    /// Carbon and lead that fill up the clearance.
    #[serde(default)]
    pub deposits_cm3: f64,
    /// The cam is late by this many degrees of crank (four-stroke).
    #[serde(default)]
    pub cam_late_deg: f64,
}

/// A leak of the head gasket between two cylinders.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Gasket {
    /// Names of the two cylinders.
    pub between: [String; 2],
    /// Leak between them.
    pub leak_mm2: f64,
}

/// Who or what turns the crank.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "by", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Turning {
    /// An electric starter: torque falls linearly with speed, both scaled by the battery. Its
    /// one-way clutch never brakes the engine.
    Electric {
        /// Torque at standstill, at the crank.
        stall_nm: f64,
        /// Crank speed without load.
        free_rpm: f64,
        /// State of the battery: 1 is full, 0.6 hardly turns.
        #[serde(default = "one")]
        battery: f64,
    },
    /// A kick lever: bursts with pauses. Strength and pause differ from kick to kick.
    Kick(Bursts),
    /// A pull cord: bursts with pauses. Strength and pause differ from pull to pull.
    PullCord(Bursts),
    /// A hand crank: steady work that swells and ebbs once a turn.
    HandCrank {
        /// Mean torque at standstill.
        torque_nm: f64,
        /// Speed at which the arm can follow no more.
        free_rpm: f64,
        /// How much strength differs from turn to turn (standard deviation, share).
        #[serde(default)]
        variation: f64,
    },
    /// A speed that nothing changes, for checks.
    Steady {
        /// The speed.
        rpm: f64,
    },
}

/// Kicks or pulls.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bursts {
    /// Torque at standstill, at the crank.
    pub torque_nm: f64,
    /// Crank speed at which leg or arm can follow no more.
    pub free_rpm: f64,
    /// Crank turns in one kick or pull.
    pub turns: f64,
    /// Mean pause from the end of one to the beginning of the next.
    pub pause_s: f64,
    /// How much strength and pause differ (standard deviation, share).
    #[serde(default)]
    pub variation: f64,
}

/// Oil put into the cylinder for a wet run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Oil {
    /// How much, in cm³.
    pub ml: f64,
    /// What is left of the ring leak right after (share, 0 to 1).
    pub ring_share: f64,
    /// Strokes in which the seal it makes falls to 1/e.
    pub seals_for_strokes: f64,
    /// Strokes in which the volume it fills falls to 1/e.
    pub stays_for_strokes: f64,
}

/// The tester in the plug hole.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tester {
    /// Volume of the adapter, open to the cylinder.
    pub adapter_cm3: f64,
    /// Volume of the hose; with a check valve: behind it. Without hose and check valve, 0.
    pub hose_cm3: f64,
    /// Effective area of the way into the hose (the open check valve, or the hose's bore).
    pub way_mm2: f64,
    /// The check valve at the plug hole, on a holding rig.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check_valve: Option<CheckValve>,
    /// Leak of hose and joints to the surroundings.
    #[serde(default)]
    pub leak_mm2: f64,
    /// Heat lost by the gas in the hose for each kelvin.
    #[serde(default)]
    pub heat_w_per_k: f64,
    /// Effective area of the open bleed valve.
    pub bleed_mm2: f64,
}

impl Tester {
    /// The same adapter with the sensor right on it: nothing holds the pressure.
    #[must_use]
    pub const fn without_check_valve(self) -> Self {
        Self {
            adapter_cm3: self.adapter_cm3,
            hose_cm3: 0.0,
            way_mm2: 0.0,
            check_valve: None,
            leak_mm2: 0.0,
            heat_w_per_k: 0.0,
            bleed_mm2: 0.0,
        }
    }
}

/// A check valve.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CheckValve {
    /// Pressure difference at which it begins to open.
    pub cracking_kpa: f64,
    /// Leak when closed.
    #[serde(default)]
    pub leak_mm2: f64,
}

/// The sensor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sensor {
    /// Samples a second, 5 to 2000.
    pub rate_hz: f64,
    /// Time constant of its first-order lag.
    #[serde(default)]
    pub lag_ms: f64,
    /// Smallest step of its readings.
    pub resolution_kpa: f64,
    /// Lower end of its range, gauge.
    pub range_min_kpa: f64,
    /// Upper end of its range, gauge.
    pub range_max_kpa: f64,
    /// White noise (standard deviation).
    #[serde(default)]
    pub noise_kpa: f64,
    /// Slow noise (standard deviation).
    #[serde(default)]
    pub slow_noise_kpa: f64,
    /// Correlation time of the slow noise.
    #[serde(default = "one")]
    pub slow_noise_s: f64,
    /// Error of its zero.
    #[serde(default)]
    pub offset_kpa: f64,
    /// Error of its span, as a share of the reading.
    #[serde(default)]
    pub span_error: f64,
    /// By how much its zero moves while it warms up.
    #[serde(default)]
    pub warm_up_kpa: f64,
    /// Time constant of the warming up.
    #[serde(default = "minute")]
    pub warm_up_s: f64,
    /// Error of its clock in parts per million.
    #[serde(default)]
    pub clock_ppm: f64,
}

/// The way through the air.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Radio {
    /// Samples in one notification.
    pub samples_per_packet: u32,
    /// Connection interval: packets arrive at its ticks.
    pub interval_ms: f64,
    /// Delay beyond that (mean of an exponential distribution).
    #[serde(default)]
    pub jitter_ms: f64,
    /// Share of packets lost, one by one.
    #[serde(default)]
    pub loss: f64,
    /// Bursts of loss a minute.
    #[serde(default)]
    pub loss_bursts_per_min: f64,
    /// Mean length of a burst of loss.
    #[serde(default)]
    pub loss_burst_s: f64,
    /// Share of packets that arrive twice.
    #[serde(default)]
    pub repeated: f64,
    /// Share of packets that arrive after their successor.
    #[serde(default)]
    pub reordered: f64,
    /// When the link is lost and for how long, in seconds since the start.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub outages: Vec<Outage>,
}

/// The link is lost for a while.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Outage {
    /// When, since the start.
    pub at_s: f64,
    /// For how long.
    pub for_s: f64,
}

/// The surroundings.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Surroundings {
    /// Ambient pressure, absolute.
    pub ambient_kpa: f64,
    /// Air temperature.
    pub air_celsius: f64,
}

/// What is done in a run, one after the other.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Program {
    /// Nothing, with the tester in place.
    pub quiet_s: f64,
    /// Cranking until this many compression strokes are done.
    pub strokes: u32,
    /// Cranking at most this long.
    #[serde(default = "minute")]
    pub crank_at_most_s: f64,
    /// Waiting with the reading held.
    pub hold_s: f64,
    /// The bleed valve open.
    pub bleed_s: f64,
    /// Nothing, until the next run.
    pub rest_s: f64,
}

/// The gas.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Gas {
    /// Dry air.
    #[default]
    Air,
    /// A gas of one ratio of specific heats, for checks against closed forms.
    ConstantGamma(f64),
}

/// One run: one cylinder in one condition.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunSpec {
    /// The engine.
    pub engine: Engine,
    /// Name of the cylinder under test.
    pub cylinder: String,
    /// Its condition.
    pub condition: Condition,
    /// Temperature of its walls.
    pub wall_celsius: f64,
    /// Oil, for a wet run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub oil: Option<Oil>,
    /// The surroundings.
    pub surroundings: Surroundings,
    /// How far the throttle is open, 0 to 1. Shut, 1 % of its area is left.
    pub throttle: f64,
    /// The other cylinders' plugs are left in.
    #[serde(default)]
    pub plugs_in: bool,
    /// Who or what turns the crank.
    pub turning: Turning,
    /// Crank angle at the start, in degrees from the firing top dead centre of the first
    /// cylinder.
    #[serde(default)]
    pub starts_at_deg: f64,
    /// The tester.
    pub tester: Tester,
    /// The sensor.
    pub sensor: Sensor,
    /// The radio.
    pub radio: Radio,
    /// What is done.
    pub program: Program,
    /// Seed of all that is random.
    pub seed: u64,
    /// Time step of the integration.
    #[serde(default = "step")]
    pub step_ms: f64,
    /// Heat transfer to the cylinder's wall, as a factor of what the correlation says.
    #[serde(default = "one")]
    pub heat_factor: f64,
    /// The gas.
    #[serde(default)]
    pub gas: Gas,
}

pub(super) const fn one() -> f64 {
    1.0
}

pub(super) const fn minute() -> f64 {
    60.0
}

pub(super) const fn step() -> f64 {
    0.4
}
