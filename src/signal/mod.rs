//! Samples → strokes → needle → call and reading.
//!
//! Pure and streaming: no clock, no I/O, O(1) memory a sample. Live and replay feed the same
//! [`Analyser`] and get the same [`Event`]s.

mod analyser;
mod build_up;
mod decide;
mod find;
#[cfg(test)]
mod outside;
mod rest;
mod results;
mod settings;
mod tuned;

pub use analyser::{Analyser, FOLLOWING_RUN_GAP_S};
pub use build_up::Turned;
pub use decide::Severity;
pub use decide::context::STROKES_KEPT;
pub use results::{
    BuildUp, Cadence, Call, Contribution, Droop, Flag, Grade, Outcome, Reading, Rig, RunResult,
    Stroke, Zero,
};
pub use settings::{Corrected, Count, Event, Live, Sample, Settings, State};
