//! The user's settings: a small file of defaults for options, and the command that shows and
//! changes it. An option on the command line comes before the file.

mod command;
mod file;

pub(super) use command::{Args, run};
pub(super) use file::{Settings, apply, asks_for};
