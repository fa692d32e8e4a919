//! The session file: durable writer, tolerant reader, recovery, seal.

mod format;

pub use format::{
    Event, Header, LinkQuality, Packet, Record, Seal, SensorIdentity, Spread, TimedEvent,
};
