//! Samples → strokes → build-up → settled reading.
//!
//! Pure and streaming: no clock, no I/O, O(1) memory a sample. Live and replay feed the same
//! [`Analyser`] and get the same [`Event`]s.

mod results;

pub use results::{
    BuildUp, Cadence, Contribution, Droop, Flag, Grade, Outcome, Reading, Rig, RunResult, Stroke,
    Zero,
};
