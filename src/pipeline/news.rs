//! What a record brought.

use crate::leakdown::Told;
use crate::signal::{self, RunResult};

/// What a record brought.
#[derive(Clone, Debug, PartialEq)]
pub enum News {
    /// The analysis of the run in hand has something to say. ([`signal::Event::RunEnded`] is left
    /// out: it comes as [`News::RunEnded`].)
    Signal(signal::Event),
    /// A run is complete.
    RunEnded {
        /// What was read.
        result: Box<RunResult>,
        /// Its index in the findings; none if it does not count: it had no stroke and nobody had
        /// announced it, or there are too many runs already.
        kept: Option<usize>,
    },
    /// The test with air under way has something to say.
    Air(Told),
    /// A test with air is over: its index in [`crate::pipeline::Pipeline::air_tests`].
    AirTested(usize),
    /// The sensor has set or cleared bits of its status.
    Status {
        /// The bits that are set now.
        set: u32,
        /// Those of them that were not set before.
        new: u32,
    },
    /// The sensor tells another charge of its battery than before, in percent.
    Battery(f64),
}
