//! Samples → strokes → build-up → settled reading.
//!
//! Pure and streaming: no clock, no I/O, O(1) memory a sample. Live and replay feed the same
//! [`Analyser`] and get the same [`Event`]s.

mod analyser;
mod budget;
mod build_up;
mod bursts;
mod cadence;
pub mod curve;
mod cusum;
mod decision;
mod droop;
mod fit;
mod flags;
mod following;
mod found;
mod holding;
mod lifts;
mod moments;
mod normal;
mod peak_fit;
mod quality;
mod rest;
mod results;
mod rig;
mod run;
mod screen;
mod settings;

pub use analyser::{Analyser, FOLLOWING_RUN_GAP_S};
pub use flags::Severity;
pub use results::{
    BuildUp, Cadence, Contribution, Droop, Flag, Grade, Outcome, Reading, Rig, RunResult, Stroke,
    Zero,
};
pub use run::STROKES_KEPT;
pub use settings::{Estimate, Event, Live, Sample, Settings, State};
