//! The commands at the process boundary: what a user types and what comes back.

mod bad_recordings;
mod bad_tests;
mod demo;
mod tape;
mod tool;
