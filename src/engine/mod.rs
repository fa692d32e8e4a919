//! What the engine is and should have: job card, standard atmosphere, expected cranking pressure;
//! and what to mind before it is cranked. Pure.
//!
//! A [`JobCard`] is read from TOML with every mistake named by line; [`Ambient`] says what air is
//! around; [`expected::expected`] what a healthy cylinder should read, with how sure that is;
//! [`usual`] what engines usually read where there is no manual, [`typical`] ratios and bores by
//! kind and decade. `protocol/job-card.md` specifies
//! the card. [`EngineKind`] is what [`cautions`], the dose of [`oil`] and advice depend on; [`Rating`]
//! holds the engine against the sensor's range.

mod abreast;
pub mod atmosphere;
mod card;
pub mod cautions;
mod check;
pub mod expected;
pub mod flow;
mod geometry;
mod kind;
mod mistake;
pub mod oil;
pub mod rating;
mod read;
pub mod stroke;
pub mod typical;
pub mod usual;

pub use atmosphere::{Ambient, AmbientKnown};
pub use card::{
    Checked, Condition, Cooling, Costs, Cycle, CylinderSpec, Decompressor, Display, EngineSpec,
    Fuel, Ignition, JobCard, Limits, Site, Start, Tester,
};
pub use geometry::Geometry;
pub use kind::{EngineKind, ReadingOnly};
pub use mistake::{CardError, CardMistake};
pub use rating::Rating;
