//! What the commands that talk to a sensor share.

pub(super) mod choice;
pub(super) mod connect;
pub(super) mod failures;
pub(super) mod known;
pub(super) mod recorder;
pub(super) mod rest;
pub(super) mod runtime;
pub(super) mod screen;
