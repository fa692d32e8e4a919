//! The session file: durable writer, tolerant reader, recovery, seal.

mod format;

pub use format::{Event, Header, Packet, Record, Seal, SensorIdentity, TimedEvent};
