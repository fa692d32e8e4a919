//! What a protocol file writes as text: identifiers, units and pressures.

use crate::units::{Pressure, PressureUnit, Temperature};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Serialize};
use std::borrow::Cow;
use std::fmt;
use uuid::Uuid;

/// An identifier of a service or characteristic: 16 or 32 bits of the Bluetooth SIG (`0x2A6D`) or
/// all 128 bits (`a35430c1-3478-42dd-93a6-67967aa01e94`).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct BleUuid(Uuid);

/// 00000000-0000-1000-8000-00805F9B34FB: what a short identifier is put in front of (Bluetooth
/// Core Specification, Volume 3, Part B, section 2.5.1).
const SIG_BASE: u128 = 0x0000_0000_0000_1000_8000_0080_5F9B_34FB;

impl BleUuid {
    /// From all 128 bits.
    pub const fn from_uuid(uuid: Uuid) -> Self {
        Self(uuid)
    }
    /// All 128 bits.
    pub const fn uuid(self) -> Uuid {
        self.0
    }
    /// From a short identifier of the Bluetooth SIG.
    const fn short(value: u32) -> Self {
        Self(Uuid::from_u128((value as u128) << 96 | SIG_BASE))
    }
}

impl TryFrom<String> for BleUuid {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        let no_uuid = || {
            format!(
                "\"{text}\" is not a UUID; write \"0x2A6D\" or \"a35430c1-3478-42dd-93a6-67967aa01e94\""
            )
        };
        if let Some(short) = text.strip_prefix("0x") {
            let digits = short.bytes().all(|b| b.is_ascii_hexdigit());
            if !digits || !matches!(short.len(), 4 | 8) {
                return Err(no_uuid());
            }
            return u32::from_str_radix(short, 16)
                .map(Self::short)
                .map_err(|_| no_uuid());
        }
        if text.len() != 36 {
            return Err(no_uuid());
        }
        Uuid::parse_str(&text).map(Self).map_err(|_| no_uuid())
    }
}

impl From<BleUuid> for String {
    fn from(uuid: BleUuid) -> Self {
        uuid.to_string()
    }
}

impl fmt::Display for BleUuid {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let bits = self.0.as_u128();
        let short = (bits >> 96) as u32;
        if Self::short(short) != *self {
            write!(f, "{}", self.0)
        } else if short <= 0xFFFF {
            write!(f, "0x{short:04X}")
        } else {
            write!(f, "0x{short:08X}")
        }
    }
}

impl JsonSchema for BleUuid {
    fn schema_name() -> Cow<'static, str> {
        "Uuid".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A Bluetooth identifier: 16 or 32 bits of the Bluetooth SIG, or all 128 bits.",
            "type": "string",
            "pattern": "^(0x([0-9A-Fa-f]{4}|[0-9A-Fa-f]{8})|[0-9A-Fa-f]{8}(-[0-9A-Fa-f]{4}){3}-[0-9A-Fa-f]{12})$"
        })
    }
}

/// The unit of a field.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Unit {
    /// A unit of pressure.
    Pressure(PressureUnit),
    /// Degree Celsius.
    Celsius,
    /// Degree Fahrenheit.
    Fahrenheit,
    /// Kelvin.
    Kelvin,
    /// Percent, of a battery's charge.
    Percent,
}

impl Unit {
    /// As it is written in a protocol file.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pressure(unit) => unit.symbol(),
            Self::Celsius => "celsius",
            Self::Fahrenheit => "fahrenheit",
            Self::Kelvin => "kelvin",
            Self::Percent => "percent",
        }
    }
    /// As it is shown.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Pressure(unit) => unit.symbol(),
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::Kelvin => "K",
            Self::Percent => "%",
        }
    }
    /// Whether it is a unit of temperature.
    pub const fn is_temperature(self) -> bool {
        matches!(self, Self::Celsius | Self::Fahrenheit | Self::Kelvin)
    }
    /// The temperature of a value in this unit; in kelvin if it is no unit of temperature.
    /// (0 °F = 459.67 °R, 1 K = 1.8 °R: NIST SP 811, appendix B.8.)
    pub(super) fn temperature(self, value: f64) -> Temperature {
        match self {
            Self::Celsius => Temperature::from_celsius(value),
            Self::Fahrenheit => Temperature::from_kelvin((value + 459.67) / 1.8),
            _ => Temperature::from_kelvin(value),
        }
    }
    /// The other way.
    pub(super) fn of_temperature(self, temperature: Temperature) -> f64 {
        match self {
            Self::Celsius => temperature.celsius(),
            Self::Fahrenheit => temperature.kelvin() * 1.8 - 459.67,
            _ => temperature.kelvin(),
        }
    }
}

impl TryFrom<String> for Unit {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        match text.as_str() {
            "celsius" | "°C" => Ok(Self::Celsius),
            "fahrenheit" | "°F" => Ok(Self::Fahrenheit),
            "kelvin" | "K" => Ok(Self::Kelvin),
            "percent" | "%" => Ok(Self::Percent),
            other => other.parse().map(Self::Pressure).map_err(|_| {
                format!(
                    "\"{text}\" is not a unit known here; known are psi, bar, kPa, kgf/cm2, Pa, hPa, \
                     mbar, MPa, atm, mmHg, inHg, celsius, fahrenheit, kelvin and percent"
                )
            }),
        }
    }
}

impl From<Unit> for String {
    fn from(unit: Unit) -> Self {
        unit.name().to_owned()
    }
}

impl JsonSchema for Unit {
    fn schema_name() -> Cow<'static, str> {
        "Unit".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let pressures = PressureUnit::ALL.into_iter().map(Unit::Pressure);
        let others = [Self::Celsius, Self::Fahrenheit, Self::Kelvin, Self::Percent];
        let mut names: Vec<&str> = pressures.chain(others).map(Unit::name).collect();
        names.extend(["kgf/cm2", "mbar", "at"]);
        json_schema!({ "description": "The unit of a field.", "type": "string", "enum": names })
    }
}

/// A pressure written with its unit: `"25 bar"`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct WrittenPressure(pub Pressure);

impl TryFrom<String> for WrittenPressure {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
            .map(Self)
            .map_err(|error: crate::units::ParsePressureError| error.to_string())
    }
}

impl From<WrittenPressure> for String {
    fn from(pressure: WrittenPressure) -> Self {
        format!("{} Pa", pressure.0.pa())
    }
}

impl JsonSchema for WrittenPressure {
    fn schema_name() -> Cow<'static, str> {
        "WrittenPressure".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A pressure with its unit, such as \"25 bar\" or \"-100 kPa\".",
            "type": "string",
            "pattern": "^\\s*[-+]?[0-9.]+([eE][-+]?[0-9]+)?\\s*[A-Za-z].*$"
        })
    }
}

/// Bytes written as pairs of hexadecimal digits, with or without spaces.
pub(super) fn bytes(text: &str) -> Result<Vec<u8>, String> {
    let digits: String = text.split_whitespace().collect();
    hex::decode(&digits).map_err(|_| format!("\"{}\" is not bytes in hexadecimal", text.trim()))
}
