//! Tests of the room of tests with air, against published figures, closed forms, a library and the
//! simulator.

mod decay;
#[path = "../support/engine.rs"]
mod engine;
mod flow;
mod plateau;
mod published;
mod recorded;
mod rounds;
mod simulated;
