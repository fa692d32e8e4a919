//! The session file: durable writer, tolerant reader, recovery, seal.
//!
//! `protocol/session-file.md` specifies the format. A [`Writer`] appends to a [`Sink`] and never
//! overwrites; a [`Reader`] verifies every line and goes on past damage; [`recover()`] makes a
//! clean copy; a [`Summary`] says what a file holds.

mod background;
mod file_sink;
mod format;
mod found;
pub mod limits;
mod line;
mod order;
mod packet_line;
mod reader;
mod recover;
mod sink;
mod summary;
mod writer;

pub use background::{BackgroundSink, StallWatch};
pub use file_sink::FileSink;
pub use format::{
    CORRECTED_VERSION, Event, Header, LinkQuality, Packet, Record, Seal, SensorIdentity, Spread,
    TimedEvent, VERSION,
};
pub use found::{Line, SealState};
pub use limits::TooLong;
pub use line::Damage;
pub use reader::{FORMAT, OpenError, Reader, open};
pub use recover::{RecoverError, Recovered, recover};
pub use sink::Sink;
pub use summary::{DamagedLine, NamedRun, Summary};
pub use writer::{SYNC_AFTER_US, WriteError, Writer};
