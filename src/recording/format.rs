//! The lines of a session file.

use crate::engine::Condition;
use serde::{Deserialize, Serialize};

/// First line: what everything after it rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Header {
    /// Always `needlerest-session`.
    pub format: String,
    /// Version of the format; 1.
    pub version: u32,
    /// Version of the tool that wrote it.
    pub tool: String,
    /// When recording began (UTC, RFC 3339).
    pub started: String,
    /// The protocol file, verbatim (TOML).
    pub protocol: String,
    /// The sensor that was connected.
    pub sensor: SensorIdentity,
    /// The job card, verbatim (TOML), if there was one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<String>,
}

/// The sensor that was connected.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SensorIdentity {
    /// Advertised name.
    pub name: String,
    /// Bluetooth address, or what stands for one (`simulated`).
    pub address: String,
    /// Serial number, firmware and the like, as the sensor told them.
    #[serde(default, skip_serializing_if = "std::collections::BTreeMap::is_empty")]
    pub details: std::collections::BTreeMap<String, String>,
}

/// One notification as received.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Packet {
    /// Host's monotonic time since recording began, in microseconds.
    pub t_us: u64,
    /// Which characteristic of the protocol file: `stream`, `battery`, `temperature`, …
    pub from: String,
    /// The payload, in hexadecimal.
    #[serde(with = "hex::serde")]
    pub hex: Vec<u8>,
}

/// Something that happened, other than a packet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "event", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Event {
    /// A run begins. Without one, runs are told apart by bleeds and named in the card's order.
    Run {
        /// The cylinder's name.
        cylinder: String,
        /// The engine's condition.
        condition: Condition,
    },
    /// The run before is void (it will be made again).
    Void {
        /// Why.
        reason: String,
    },
    /// The link to the sensor was lost.
    LinkLost,
    /// The link is back.
    LinkBack,
    /// The user marked this moment.
    Mark {
        /// What for.
        text: String,
    },
    /// The user's note.
    Note {
        /// The note.
        text: String,
    },
}

/// A line of the file, after its check value has been verified.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
pub enum Record {
    /// First line.
    Header(Header),
    /// A notification.
    Packet(Packet),
    /// An event.
    Event(TimedEvent),
    /// Last line.
    Seal(Seal),
}

/// An event and when it happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TimedEvent {
    /// Host's monotonic time since recording began, in microseconds.
    pub t_us: u64,
    /// What happened.
    #[serde(flatten)]
    pub event: Event,
}

/// Last line: a digest over every byte before it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Seal {
    /// SHA-256 of all bytes before this line, in hexadecimal.
    pub sha256: String,
    /// How many lines come before it.
    pub lines: u64,
}
