//! Nobody gets hurt: what is said of each kind of engine with each sensor, and what is not.

#[allow(dead_code, reason = "shared with the tests of the session")]
#[path = "../session/bench.rs"]
mod bench;
#[allow(dead_code, reason = "shared with the tests of the assessment")]
#[path = "../assess/support.rs"]
mod support;

mod cautions;
mod engines;
mod oil;
mod screens;
mod table;
