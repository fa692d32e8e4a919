//! needlerest reads a pressure sensor while an engine is cranked, finds each stroke's peak and
//! the settled plateau, compares the cylinders, and reports what the readings support.
//!
//! Data flows one way: `transport` → `recording` → `protocol` → `signal` → `assess` → `report`.
//! The core (`units`, `protocol`, `signal`, `engine`, `assess`, `session`) is pure: no clock, no
//! I/O, no randomness, and elementary functions from `libm`, so that a recording replays to the
//! same results, bit for bit, on every machine.

pub mod assess;
pub mod cli;
pub mod engine;
pub mod pipeline;
pub mod protocol;
pub mod recording;
pub mod report;
pub mod session;
pub mod signal;
pub mod simulate;
pub mod transport;
pub mod units;
