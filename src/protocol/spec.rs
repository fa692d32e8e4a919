//! The protocol file as it is written: one Rust type a TOML table.
//!
//! The JSON Schema of the file is generated from these types, so their doc comments are what an
//! editor shows to whoever writes such a file.

use super::limits;
use super::number::{ByteOrder, NumberType};
use super::values::{BleUuid, Unit, WrittenPressure};
pub use super::wire::spec::{Answer, Ask, Check, CheckKind, DecimalMark, Frame, Length, Text};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Describes a Bluetooth LE pressure sensor: how it is recognised, how its notifications decode,
/// how it is commanded.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Spec {
    /// Always `needlerest-protocol`.
    pub format: String,
    /// Version of this format: 1, or 2 for what version 1 cannot say.
    pub version: u32,
    /// What the kind of sensor is called, at most 64 characters.
    pub name: String,
    /// For people: what it is, where its description comes from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
    /// How the sensor is found among others; at least one of its entries is needed.
    pub recognise: Recognise,
    /// What the sensor measures, how fast and how well.
    pub sensor: Sensor,
    /// The sensor's own clock, if the stream has a field of role `tick`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clock: Option<Clock>,
    /// The characteristic that notifies pressure, and how its payload is laid out.
    pub stream: Stream,
    /// Other characteristics that carry one number: battery, temperature.
    #[serde(default, rename = "reading", skip_serializing_if = "Vec::is_empty")]
    pub readings: Vec<Reading>,
    /// Characteristics that carry a text, read once after connecting: serial number, firmware.
    #[serde(default, rename = "detail", skip_serializing_if = "Vec::is_empty")]
    pub details: Vec<Detail>,
    /// What the bits of the stream's field of role `status` mean.
    #[serde(default, rename = "status", skip_serializing_if = "Vec::is_empty")]
    pub status_bits: Vec<StatusBit>,
    /// Where and how the sensor takes commands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub commands: Option<Commands>,
}

/// How the sensor is found among others.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Recognise {
    /// A service that it advertises.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub service: Option<BleUuid>,
    /// What its advertised name begins with, at most 64 characters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name_prefix: Option<String>,
}

/// Whether a sensor's zero is the air around it or vacuum.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Reference {
    /// Zero is the pressure of the air around it.
    Gauge,
    /// Zero is vacuum; a reading at rest is subtracted before use.
    Absolute,
}

/// What the sensor measures, how fast and how well.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sensor {
    /// Gauge or absolute.
    pub pressure: Reference,
    /// Lower end of its range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range_low: Option<WrittenPressure>,
    /// Upper end of its range. From here on a sample counts as out of range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range_high: Option<WrittenPressure>,
    /// The smallest difference it can tell; without it, one step of the stream's pressure field.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub resolution: Option<WrittenPressure>,
    /// The largest error anywhere in the range, as a pressure.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accuracy: Option<WrittenPressure>,
    /// The largest error anywhere in the range, in percent of the span (`range_high` less
    /// `range_low`). Instead of `accuracy`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accuracy_percent_of_span: Option<f64>,
    /// Samples a second, unless commanded otherwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_hz: Option<f64>,
    /// The slowest rate it can be set to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_lowest_hz: Option<f64>,
    /// The fastest rate it can be set to.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_highest_hz: Option<f64>,
}

/// Which sample of a packet the tick belongs to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum TickOf {
    /// The packet's first sample.
    #[default]
    First,
    /// The packet's last sample.
    Last,
}

/// The sensor's own clock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Clock {
    /// Length of a tick in microseconds.
    pub tick_us: f64,
    /// The tick after which it starts again at 0; without it, the highest that its type holds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub last_tick: Option<u32>,
    /// Which sample of a packet the tick belongs to.
    #[serde(default)]
    pub tick_of: TickOf,
}

/// The characteristic that notifies pressure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stream {
    /// The characteristic.
    pub uuid: BleUuid,
    /// Its service, where the characteristic alone does not tell. Version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub service: Option<BleUuid>,
    /// Byte order of its fields, unless a field says otherwise.
    #[serde(default)]
    pub byte_order: ByteOrder,
    /// The longest payload that the sensor sends, 1 to 512 bytes; 20 fits the smallest packets
    /// that Bluetooth LE promises.
    #[serde(default = "smallest_payload")]
    pub max_payload: usize,
    /// The fields of the payload in order, before the block of samples if there is one.
    #[serde(default, rename = "field")]
    pub fields: Vec<Field>,
    /// A block of samples that repeats to the end of the payload.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub samples: Option<Samples>,
    /// The stream is lines of text. Version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<Text>,
    /// The stream is frames that packets cut anywhere. Version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frame: Option<Frame>,
    /// Pressure must be asked for. Version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ask: Option<Ask>,
}

/// ATT's default MTU of 23 bytes less the notification's own 3 (Bluetooth Core Specification,
/// Volume 3, Part G, section 5.2.1 and Part F, section 3.4.7.1; the sections from memory).
const fn smallest_payload() -> usize {
    20
}

impl Frame {
    /// The bytes that every frame begins with; none if they are not written as bytes.
    pub(super) fn start_bytes(&self) -> Option<Vec<u8>> {
        super::values::bytes(&self.start).ok()
    }
}

impl Stream {
    /// Bytes of a message before the first field that does not say where it begins.
    pub(super) fn header(&self) -> usize {
        let Some(frame) = &self.frame else { return 0 };
        let start = frame.start_bytes().map_or(0, |bytes| bytes.len());
        let length = frame.length.as_ref().filter(|length| length.at == start);
        start + length.map_or(0, |length| length.kind.size())
    }

    /// Bytes that fields may take, header included.
    pub(super) fn room(&self) -> usize {
        if self.text.is_some() {
            return limits::FIELDS * NumberType::Decimal.size();
        }
        let Some(frame) = &self.frame else {
            return self.max_payload;
        };
        let check = frame.check.as_ref().map_or(0, Check::size);
        let longest = frame.longest.unwrap_or(limits::MESSAGE);
        longest.saturating_sub(check)
    }
}

/// A block of samples that repeats.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Samples {
    /// How often it repeats, if always the same number. Otherwise a field of role `count` says,
    /// or the block repeats to the end of the payload.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count: Option<usize>,
    /// The most samples that the sensor puts into a packet, if fewer than fit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_most: Option<usize>,
    /// The fields of one sample in order.
    #[serde(default, rename = "field")]
    pub fields: Vec<Field>,
}

/// What a field is for.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// Number of the packet: one more with each packet, then again from 0. Unsigned.
    Sequence,
    /// The sensor's clock. Unsigned.
    Tick,
    /// Ticks from one sample of this packet to the next. Unsigned.
    Interval,
    /// How many samples the packet holds. Unsigned.
    Count,
    /// The pressure.
    Pressure,
    /// The sensor's temperature.
    Temperature,
    /// What is left in its battery.
    Battery,
    /// Bits that the `status` tables explain. Unsigned.
    Status,
    /// Anything else: shown, not used.
    Other,
}

impl Role {
    /// As it is written in a protocol file.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Sequence => "sequence",
            Self::Tick => "tick",
            Self::Interval => "interval",
            Self::Count => "count",
            Self::Pressure => "pressure",
            Self::Temperature => "temperature",
            Self::Battery => "battery",
            Self::Status => "status",
            Self::Other => "other",
        }
    }
}

/// A number in a payload: `value = raw × scale + offset`, or by `table`, in `unit`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Field {
    /// What it is for.
    pub role: Role,
    /// How it is written.
    #[serde(rename = "type")]
    pub kind: NumberType,
    /// What it is called where its role does not say it all, at most 64 characters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Where it begins, in bytes from the start of the payload (in a block: of the sample);
    /// without it, right after the field before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<usize>,
    /// Its byte order, where that differs from the stream's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub byte_order: Option<ByteOrder>,
    /// Factor on the raw number.
    #[serde(default = "one")]
    pub scale: f64,
    /// Added after the factor.
    #[serde(default)]
    pub offset: f64,
    /// Points `[raw number, value]`, raw numbers rising, instead of `scale` and `offset`: values
    /// between them lie on straight lines, what lies beyond is out of range. Version 2.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub table: Vec<[f64; 2]>,
    /// A number of type `decimal`: digits after its mark, as the sensor writes them; 0 to 9,
    /// without it 3. Version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub digits: Option<u8>,
    /// A field of role `other`: the number that it must hold; a message with another one is not
    /// about pressure and is passed over. Version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub equals: Option<i64>,
    /// Unit of the value: of a pressure, a temperature, or `percent` of a battery.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<Unit>,
    /// The raw number that means: above the range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub over_range: Option<i64>,
    /// The raw number that means: below the range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub under_range: Option<i64>,
    /// The raw number that means: no value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub no_value: Option<i64>,
}

const fn one() -> f64 {
    1.0
}

/// What can be done with a characteristic.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Access {
    /// It is read when needed.
    Read,
    /// It notifies by itself.
    Notify,
}

/// A characteristic that carries one number.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reading {
    /// What recordings call it: `battery`, `temperature`; not `stream`.
    pub from: String,
    /// The characteristic.
    pub uuid: BleUuid,
    /// Its service, where the characteristic alone does not tell. Version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub service: Option<BleUuid>,
    /// How it comes; at least one.
    pub access: Vec<Access>,
    /// The number.
    pub field: Field,
}

/// A characteristic that carries a text.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Detail {
    /// What recordings and reports call it: `serial number`, `firmware`.
    pub name: String,
    /// The characteristic.
    pub uuid: BleUuid,
    /// Its service, where the characteristic alone does not tell. Version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub service: Option<BleUuid>,
}

/// How much a status bit matters.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Good to know.
    Note,
    /// Look into it soon; readings are still sound.
    Warning,
    /// Readings are not to be trusted while it is set.
    Fault,
}

/// A bit of the status field.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StatusBit {
    /// Which bit; 0 is the lowest.
    pub bit: u32,
    /// What it means when it is set, in plain words.
    pub meaning: String,
    /// How much it matters.
    pub severity: Severity,
}

/// Where and how the sensor takes commands. A command is written as bytes in hexadecimal; in
/// `set_rate` one of them stands for the rate: `{rate:u16}` in samples a second, or
/// `{interval:u32}` in ticks from sample to sample.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Commands {
    /// The characteristic.
    pub uuid: BleUuid,
    /// Its service, where the characteristic alone does not tell. Version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub service: Option<BleUuid>,
    /// The sensor acknowledges each write.
    #[serde(default)]
    pub acknowledged: bool,
    /// Byte order of the rate.
    #[serde(default)]
    pub byte_order: ByteOrder,
    /// Starts the stream, where subscribing alone does not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub start: Option<String>,
    /// Stops it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stop: Option<String>,
    /// Takes the pressure at this moment as zero.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub zero: Option<String>,
    /// Sets the sample rate.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub set_rate: Option<String>,
}
