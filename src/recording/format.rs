//! The lines of a session file.

use crate::correction::Checked;
use crate::engine::Condition;
use crate::leakdown::{Filled, Place, Restrictor, Stage};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The version of the format that is written where the sensor is not corrected.
pub const VERSION: u32 = 1;
/// The version that is written where it is, so that no program that knows of no correction passes it
/// over; the newest that is read.
pub const CORRECTED_VERSION: u32 = 2;

/// First line: what everything after it rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Header {
    /// Always `needlerest-session`.
    pub format: String,
    /// Version of the format: 1, or 2 where the sensor is corrected.
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

impl Header {
    /// The version of the format that a header with this sensor is of.
    pub fn version_for(sensor: &SensorIdentity) -> u32 {
        if sensor.correction.is_some() {
            CORRECTED_VERSION
        } else {
            VERSION
        }
    }
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
    /// The check against a gauge by which its pressures are corrected. Recordings that hold one are
    /// of version 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub correction: Option<Checked>,
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
    /// The run is over, though no bleed shows it.
    End,
    /// A run is void: it does not count.
    Void {
        /// Which one, by its index in the findings; none: the run before. The index that the run
        /// in hand will have: as long as it has no stroke, it is as if it had never been announced.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        run: Option<usize>,
        /// Why.
        reason: String,
    },
    /// A run is named (again) after it was made.
    Name {
        /// Which one, by its index in the findings.
        run: usize,
        /// The cylinder's name.
        cylinder: String,
        /// The engine's condition.
        condition: Condition,
    },
    /// A stopped session goes on: what follows was recorded later, with the sensor connected anew
    /// (its clock and its sequence numbers have begun again). Host times count on.
    Resumed {
        /// When (UTC, RFC 3339).
        at: String,
    },
    /// The link to the sensor was lost.
    LinkLost,
    /// The link is back.
    LinkBack,
    /// How the link has done since recording began.
    Link(Box<LinkQuality>),
    /// A leak-down test begins: what comes until `end`, or until a run or another test begins, is
    /// no cranking.
    LeakDown {
        /// The cylinder's name.
        cylinder: String,
        /// The engine's condition.
        condition: Condition,
        /// The restrictor before the sensor.
        restrictor: Restrictor,
    },
    /// A decay test begins, in the same way.
    Decay {
        /// What is filled.
        filled: Filled,
        /// The cylinder, where one is.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        cylinder: Option<String>,
        /// What is filled, in cm³, where it is known.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        volume_cm3: Option<f64>,
    },
    /// What is done with the air from now on.
    Air {
        /// The stage of the test.
        stage: Stage,
    },
    /// Where air is heard to leave.
    Heard {
        /// The loudest first.
        places: Vec<Place>,
    },
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

/// How the link has done since recording began; times in microseconds.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LinkQuality {
    /// Notifications received on the stream.
    pub packets: u64,
    /// Notifications that never came, by their sequence numbers; none if they carry none.
    pub lost: Option<u64>,
    /// How often the link was lost.
    pub link_losses: u64,
    /// Signal strength as last told by the host, in dBm.
    pub rssi_dbm: Option<i16>,
    /// Time from one notification to the next.
    pub spacing_us: Option<Spread>,
    /// How much later than the quickest notification each one came, by the sensor's own clock.
    /// (How late the quickest one is cannot be known from here.)
    pub latency_us: Option<Spread>,
    /// How much faster than the host's clock the sensor's runs, in parts per million.
    pub drift_ppm: Option<f64>,
}

/// Where a row of times lies, in microseconds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Spread {
    /// Half are no more than this.
    pub p50: u64,
    /// 99 of 100 are no more than this.
    pub p99: u64,
    /// The longest.
    pub max: u64,
}

/// A line of the file, after its check value has been verified.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
pub enum Record {
    /// First line.
    Header(Box<Header>),
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
