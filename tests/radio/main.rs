//! The radio, without a radio: the real program talks through the real Bluetooth library and a
//! real message bus to a stand-in for the Bluetooth daemon.
#![cfg(target_os = "linux")]
#![allow(dead_code, reason = "the scenarios of faults follow")]

#[path = "../support/skip.rs"]
mod skip;

mod answers;
mod away;
mod bus;
mod campaign;
mod conform;
mod daemon;
mod faults;
mod find;
mod flood;
mod hostile;
mod order;
mod peripheral;
#[path = "../commands/pty.rs"]
mod pty;
mod reference;
mod script;
mod spoken;
mod stage;
mod stream;
mod tool;
mod tree;
