//! Joins the rooms: recorded packets and events → samples → runs → assessment. Live and replay
//! feed the same code, so both give the same findings.

mod findings;
mod trace;

pub use crate::protocol::PacketCounts;
pub use findings::{Findings, RecordingFacts, Run, SensorFacts};
pub use trace::{Thinner, Trace};
