//! The job card: what is known about the engine before the first stroke.

use crate::units::{Pressure, PressureUnit, Temperature};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::str::FromStr;

/// The state of the engine during a run.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Condition {
    /// Not run before the test, no oil added.
    ColdDry,
    /// At working temperature, no oil added.
    WarmDry,
    /// A little oil added to the cylinder.
    Wet,
}

impl Condition {
    /// Every condition in the order in which they are tested.
    pub const ALL: [Self; 3] = [Self::ColdDry, Self::WarmDry, Self::Wet];

    /// As it is shown: `cold`, `warm`, `wet`.
    pub const fn label(self) -> &'static str {
        match self {
            Self::ColdDry => "cold",
            Self::WarmDry => "warm",
            Self::Wet => "wet",
        }
    }
}

/// As it is shown, or as recordings have it: `cold-dry`, `warm-dry`, `wet`.
impl FromStr for Condition {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let word = text.strip_suffix("-dry").unwrap_or(text);
        let known = Self::ALL.into_iter().find(|one| one.label() == word);
        known
            .filter(|one| word == text || *one != Self::Wet)
            .ok_or_else(|| format!("\"{text}\" is none of cold, warm, wet"))
    }
}

/// Working cycle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Cycle {
    /// One compression stroke in two crank turns.
    FourStroke,
    /// One compression stroke a crank turn.
    TwoStroke,
}

impl Cycle {
    /// Crank turns from one compression stroke to the next.
    pub const fn turns_per_stroke(self) -> f64 {
        match self {
            Self::FourStroke => 2.0,
            Self::TwoStroke => 1.0,
        }
    }
}

/// How the engine is turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Start {
    /// Electric starter.
    Electric,
    /// Kick lever: a few compressions a kick, pauses between.
    Kick,
    /// Pull cord.
    PullCord,
    /// Hand crank.
    HandCrank,
}

/// What lights the mixture.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Ignition {
    /// A spark plug: petrol, gas, kerosene.
    #[default]
    Spark,
    /// Heat of compression: diesel. Never oiled for a wet run.
    Compression,
}

/// How fuel reaches a spark-ignition engine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Fuel {
    /// A carburettor, which keeps some fuel in its bowl.
    Carburettor,
    /// Injectors and a pump.
    Injection,
}

/// What takes an engine's heat away.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Cooling {
    /// Air past fins: there is no coolant.
    Air,
    /// Water or another liquid.
    Liquid,
}

/// What lets part of a stroke out so that the engine is easier to turn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Decompressor {
    /// There is none.
    None,
    /// It is worked by hand, and can be held shut.
    Manual,
    /// It opens by itself at cranking speed: readings are low by design and are not judged.
    Automatic,
}

/// A job card (TOML). Everything but the engine's label, its cycle and its cylinders may be left
/// out; what is missing is said where it is missed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JobCard {
    /// Always `needlerest-card`.
    pub format: String,
    /// Version of the card's format; 1.
    pub version: u32,
    /// The engine.
    pub engine: EngineSpec,
    /// The cylinders in the order in which they are tested.
    #[serde(rename = "cylinder")]
    pub cylinders: Vec<CylinderSpec>,
    /// What the engine's manual asks for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub limits: Option<Limits>,
    /// Where the test is made.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub site: Option<Site>,
    /// What is known about the tester.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tester: Option<Tester>,
    /// What was seen to before the test.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub checked: Option<Checked>,
    /// What repairs would cost, for a buyer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub costs: Option<Costs>,
    /// How pressures are shown.
    #[serde(default)]
    pub display: Display,
}

/// The engine.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EngineSpec {
    /// What the user calls it.
    pub label: String,
    /// Working cycle.
    pub cycle: Cycle,
    /// What lights the mixture; a spark if left out.
    #[serde(default)]
    pub ignition: Ignition,
    /// Bore in millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bore_mm: Option<f64>,
    /// Stroke in millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stroke_mm: Option<f64>,
    /// Connecting rod length, centre to centre, in millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rod_mm: Option<f64>,
    /// Geometric compression ratio (two-stroke: of the full stroke).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub compression_ratio: Option<f64>,
    /// When compression begins: intake valve closes, degrees after bottom dead centre
    /// (two-stroke: exhaust port closes, degrees after bottom dead centre).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closes_deg_abdc: Option<f64>,
    /// How it is turned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<Start>,
    /// How fuel reaches a spark-ignition engine; not known if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fuel: Option<Fuel>,
    /// What lets part of a stroke out while the engine is started; not known if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decompressor: Option<Decompressor>,
    /// What takes its heat away; not known if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cooling: Option<Cooling>,
}

/// A cylinder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CylinderSpec {
    /// Its name: `1`, `left`, …
    pub name: String,
    /// Names of the cylinders that share a gasket land with it (same bank, next to it).
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub neighbours: Vec<String>,
}

/// What the engine's manual asks for. A pressure is written as a number and a unit:
/// `"150 psi"`, `"10.3 bar"`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// Lowest reading at which the maker still lets it run.
    #[serde(default, with = "written", skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub service_limit: Option<Pressure>,
    /// Lower end of the normal range.
    #[serde(default, with = "written", skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub normal_low: Option<Pressure>,
    /// Upper end of the normal range.
    #[serde(default, with = "written", skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub normal_high: Option<Pressure>,
}

/// Where the test is made.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// Height above sea level in metres; used when the ambient pressure is not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub altitude_m: Option<f64>,
    /// Ambient (station) pressure, absolute; not the sea-level figure of a weather report.
    #[serde(default, with = "written", skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub ambient_absolute: Option<Pressure>,
    /// Air temperature in degrees Celsius.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub air_celsius: Option<f64>,
}

impl Site {
    /// Air temperature, where it is given.
    pub fn air(&self) -> Option<Temperature> {
        self.air_celsius.map(Temperature::from_celsius)
    }
}

/// What is known about the tester.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tester {
    /// Volume between the plug hole and the check valve (or the sensor, if there is none) in cm³.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dead_volume_cm3: Option<f64>,
    /// Volume behind the check valve in cm³.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hose_volume_cm3: Option<f64>,
    /// Diameter of the restrictor for leak-down tests in mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub restrictor_mm: Option<f64>,
    /// Oil put into a cylinder for the wet run, in cm³: at most a tenth of its chamber and 5 cm³.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wet_oil_cm3: Option<f64>,
}

/// What was seen to before the test: a low reading is then not put down to it. What is not stated
/// counts as not looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Checked {
    /// Throttle and choke were wide open during every run, and seen to be.
    #[serde(default)]
    pub throttle_open: bool,
    /// The tester was put under pressure by itself, and held it.
    #[serde(default)]
    pub tester_tight: bool,
}

/// What repairs would cost, labour and parts, in one currency.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Costs {
    /// How the currency is written: `EUR`, `$`, …
    pub currency: String,
    /// Top-end job: rings, and the bore made good.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub top_end: Option<f64>,
    /// Valve job.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub valve_job: Option<f64>,
    /// Head gasket.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gasket: Option<f64>,
    /// Decoking: deposits taken out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub decoke: Option<f64>,
    /// Cam or valve timing put right.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub timing: Option<f64>,
}

/// How pressures are shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Display {
    /// The unit of every pressure shown.
    #[serde(default)]
    pub unit: PressureUnit,
    /// A second unit, shown beside it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub also: Option<PressureUnit>,
}

impl Display {
    /// With the units that are given instead.
    #[must_use]
    pub fn with(self, unit: Option<PressureUnit>, also: Option<PressureUnit>) -> Self {
        let unit = unit.unwrap_or(self.unit);
        Self {
            unit,
            also: also.or(self.also).filter(|also| *also != unit),
        }
    }
}

/// Pressures in a card are written with their unit.
mod written {
    use super::Pressure;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    #[allow(clippy::ref_option, reason = "the signature that serde asks for")]
    pub(super) fn serialize<S: Serializer>(
        value: &Option<Pressure>,
        serializer: S,
    ) -> Result<S::Ok, S::Error> {
        match value {
            // Pascal, so that the number survives the way through text unchanged.
            Some(pressure) => serializer.serialize_str(&format!("{} Pa", pressure.pa())),
            None => serializer.serialize_none(),
        }
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Option<Pressure>, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map(Some).map_err(D::Error::custom)
    }
}
