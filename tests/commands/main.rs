//! The commands at the process boundary: what a user types and what comes back.

mod bad_recordings;
mod bad_tests;
mod card;
mod demo;
mod documents;
mod exit_codes;
mod import;
mod leak_down;
mod lines;
mod practice;
#[cfg(unix)]
mod pty;
mod refused;
mod sensors;
mod settings;
#[cfg(unix)]
mod steering;
mod tape;
mod tool;
mod workbench;
