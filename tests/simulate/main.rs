//! The simulator held against the world: closed forms, handbook formulas, general-purpose
//! libraries, and itself at half the step.

mod air_tests;
mod bad_input;
mod balances;
mod common;
mod cranking;
mod demo;
mod determinism;
#[path = "../support/engine.rs"]
mod engine;
mod gas;
mod geometry;
mod manuals;
mod orifice;
mod radio;
mod sensor;
mod solver;
mod tester;
mod truth;
mod virtual_sensor;
