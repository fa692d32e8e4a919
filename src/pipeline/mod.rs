//! Joins the rooms: recorded packets and events → samples → runs → assessment. Live and replay
//! feed the same code, so both give the same findings.
//!
//! A [`Pipeline`] takes records one after another and tells what is new; a [`Player`] feeds it from
//! a recording; [`analyse`] does all of that at once and gives the [`Findings`].

mod air;
mod analysis;
mod by_hand;
mod corrected;
mod findings;
mod given;
mod json;
mod labels;
mod news;
mod options;
mod player;
mod samples;
mod soundness;
mod stream;
mod trace;

pub use crate::protocol::PacketCounts;
pub use air::MOST_AIR_TESTS;
pub use analysis::{Analysis, inputs};
pub use by_hand::{ByHand, ByHandError};
pub use corrected::{CorrectionFacts, DriftFacts};
pub use findings::{Findings, RecordingFacts, Run, Samples, SensorFacts};
pub use given::{Given, GivenFile};
pub use json::{FORMAT, json, schema};
pub use labels::Label;
pub use news::News;
pub use options::Options;
pub use player::{PlayError, Player, Step, analyse};
pub use soundness::{Lost, Soundness, Stretch};
pub use stream::{MOST_NOTES, MOST_RUNS, MOST_STROKES, MOST_TEXT, Pipeline, PipelineError};
pub use trace::{Thinner, Trace};
