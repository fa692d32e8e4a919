//! Nothing lost, nothing believed that is wrong: faults and bad input under the real program.
//!
//! The whole campaign, which ends in a table:
//! `RELIABILITY_TRIES=500 cargo test --release --test reliability campaign -- --nocapture`

#[path = "../support/skip.rs"]
mod skip;

#[path = "../../fuzz/checks/mod.rs"]
mod checks;

mod campaign;
mod corpora;
mod damage;
mod determinism;
mod disks;
mod gauge;
mod killed;
mod limits;
mod long;
mod network;
mod old_files;
mod power;
mod soak;
mod support;
