//! What the engine is and should have: job card, standard atmosphere, expected cranking pressure.
//! Pure.
//!
//! A [`JobCard`] is read from TOML with every mistake named by line; [`Ambient`] says what air is
//! around; [`expected::expected`] what a healthy cylinder should read, with how sure that is;
//! [`usual`] what engines usually read where there is no manual. `protocol/job-card.md` specifies
//! the card.

mod abreast;
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
    Checked, Condition, Costs, Cycle, CylinderSpec, Display, EngineSpec, Ignition, JobCard, Limits,
    Site, Start, Tester,
};
pub use geometry::Geometry;
pub use read::{CardError, CardMistake};
