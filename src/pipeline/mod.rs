//! Joins the rooms: recorded packets and events → samples → runs → assessment. Live and replay
//! feed the same code, so both give the same findings.

mod findings;

pub use findings::{Findings, PacketCounts, RecordingFacts, Run, SensorFacts};
