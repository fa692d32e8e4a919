//! From the needle to the call and the reading: has it stopped, what does it read, how well is that
//! known, and how good was the test?

mod budget;
mod call;
pub(super) mod context;
pub(super) mod droop;
mod flags;
mod moments;
mod quality;
mod repeat;
pub(super) mod run;
mod tops;

pub use flags::Severity;
