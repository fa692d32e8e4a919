//! The radio. The only module that knows the Bluetooth library.
//!
//! The stages are types: a [`Scanner`] gives [`Found`]s, one of which connects to a [`Sensor`],
//! which streams as a [`BleStream`].

mod asker;
mod ear;
mod faults;
mod keeper;
mod link;
mod panics;
mod plan;
mod pump;
mod scan;
mod sensor;
mod stream;

pub use ear::Ear;
pub use panics::hide_known_race;
pub use scan::{Found, Scanner, Sought};
pub use sensor::{Facts, Sensor};
pub use stream::BleStream;
