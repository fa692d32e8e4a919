//! What the engine is and should have: job card, standard atmosphere, expected cranking pressure.
//! Pure.

pub mod atmosphere;
mod card;
mod check;
pub mod expected;
mod geometry;
mod read;
pub mod stroke;
pub mod usual;

pub use atmosphere::{Ambient, AmbientKnown};
pub use card::{
    Condition, Costs, Cycle, CylinderSpec, Display, EngineSpec, Ignition, JobCard, Limits, Site,
    Start, Tester,
};
pub use geometry::Geometry;
pub use read::{CardError, CardMistake};
