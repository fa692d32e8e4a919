//! The guided session: its state machine, its screen, and the whole of it in a real terminal.

#[path = "../support/skip.rs"]
mod skip;

mod air;
mod bench;
mod faults;
mod newcomer;
mod phone;
mod random;
mod replay;
mod rest;
mod screen;
mod terminal;
mod undo;
mod visit;
mod voice;
