//! The guided run: a pure state machine fed with samples and key presses, giving prompts and
//! events.
//!
//! [`Session::push`] takes one [`Input`] and gives the [`Output`]s that follow from it;
//! [`Session::view`] says where the session stands and what to do next.

mod air;
mod asked;
mod changes;
mod guide;
mod input;
mod judge;
mod output;
mod plan;
mod prompt;
mod ready;
mod rest;
mod runs;
mod spoken;
mod state;
mod steps;
mod task;
mod undo;
mod voice;
mod words;

pub use input::{AirSetup, Command, Input, KeptRun, Link, Setup, Trouble};
pub use output::{Announcement, Entry, Output};
pub use plan::{Planned, UNNAMED, place};
pub use prompt::{Tone, View};
pub use ready::cautions;
pub use state::{MadeRun, RunState, Session, Stage};
pub use steps::AirSteps;
pub use task::{AirAnswer, AirEngine, AirTask};
pub use words::counted;
