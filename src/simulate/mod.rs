//! A cylinder being cranked with a tester in its plug hole, the tester, the sensor, and their
//! faults. Deterministic from a seed.
//!
//! [`run`] simulates one run cheaply: samples and what was true, no packets. [`session`] makes a
//! whole visit from a [`Recipe`]: a recording, as if a sensor had sent it, and the truth beside
//! it. [`draw`] draws visits from a documented distribution.

mod air;
mod air_plan;
mod air_test;
mod airline;
mod build;
mod chebyshev;
mod check;
mod corpus;
mod derived;
mod draw;
mod driver;
mod error;
mod families;
mod geometry;
mod layout;
mod machine;
mod network;
mod orifice;
mod radio;
mod random;
mod recipe;
mod run;
mod sensor;
mod session;
mod shape;
mod spec;
mod step;
mod strokes;
mod surroundings;
mod truth;
mod wall;
mod with_air;

pub use air::Air;
pub use air_plan::{AirTestKind, LetGo, PlannedAirTest};
pub use air_test::AirTruth;
pub use airline::AirSupply;
pub use corpus::{CorpusSummary, CorpusVisit, Origin, visit, visit_truths};
pub use draw::{Drawn, Fault, draw};
pub use error::SimulateError;
pub use families::Family;
pub use geometry::Slider;
pub use machine::{Machine, Moment};
pub use network::Ledger;
pub use orifice::{Upstream, choked_factor, critical_ratio, mass_flow};
pub use random::Draws;
pub use recipe::{PlannedRun, Recipe};
pub use run::{RunTrace, run, run_watched, samples, strokes};
pub use sensor::Sample;
pub use session::{Simulated, session, session_watched};
pub use spec::{
    Bursts, CheckValve, Cylinder, Engine, Gas, Gasket, Oil, Outage, Ports, Program, Radio, RunSpec,
    Sensor, Surroundings, Tester, Turning, Valves,
};
pub use strokes::TrueStroke;
pub use truth::{PacketTruth, RunTruth, Truth};
pub use with_air::AirBench;
