//! What must hold for any bytes whatever. The fuzzer calls these with bytes that it makes up, and
//! `tests/reliability` with the kept corpora, so that what was once found stays found on a stable
//! compiler.
#![allow(dead_code, reason = "each fuzz target uses one of them")]

mod bytes;
mod card;
mod decoder;
mod findings;
mod protocol;
mod recording;
mod report;
mod signal;

pub use card::job_card;
pub use decoder::packet_decoder;
pub use protocol::protocol_file;
pub use recording::recording_reader;
pub use report::report;
pub use signal::signal;
