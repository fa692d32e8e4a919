//! The protocol file: how a sensor is recognised, how its packets decode to samples, and how
//! commands to it are encoded. Pure.
//!
//! A [`ProtocolFile`] is read from TOML and found sound once; a [`Decoder`] turns payloads into
//! [`RawSample`]s by it, an [`Encoder`] goes the other way for simulated and virtual sensors, and
//! [`explain`] shows a payload field by field. `protocol/README.md` specifies the format.

mod clock;
mod command;
mod counts;
mod decode;
mod encode;
mod error;
mod explain;
mod file;
mod layout;
pub mod limits;
mod number;
mod order;
mod plain;
mod sample;
mod schema;
mod slot;
mod spec;
mod validate;
mod values;
mod wire;

pub use command::{Command, CommandError};
pub use counts::PacketCounts;
pub use decode::Decoder;
pub use encode::{Encoder, SensorSample};
pub use error::ProtocolError;
pub use explain::{Explained, Row, explain};
pub use file::{FORMAT, ProtocolFile, VERSION};
pub use number::{ByteOrder, NumberType, Raw};
pub use sample::RawSample;
pub use schema::schema;
pub use spec::{
    Access, Answer, Ask, Check, CheckKind, Clock, Commands, DecimalMark, Detail, Field, Frame,
    Length, Reading, Recognise, Reference, Role, Samples, Sensor, Severity, Spec, StatusBit,
    Stream, Text, TickOf,
};
pub use values::{BleUuid, Unit, WrittenPressure};

/// What recordings call the characteristic that notifies pressure.
pub const STREAM: &str = "stream";
