//! Where packets come from: a radio link, a recording, a virtual sensor; one trait.
//!
//! Every source hands on the same thing, a row of [`Arrival`]s with non-decreasing host times, so
//! that everything downstream is the same code.

pub mod ble;
mod clock;
mod error;
mod paced;
mod practice;
mod presentation;
mod pump;
mod quality;
mod replay;
mod source;
mod teller;
mod virtual_sensor;

pub use clock::Clock;
pub use error::TransportError;
pub use paced::{Pace, Paced};
pub use practice::{PracticeHand, PracticeSensor, practice};
pub use presentation::Presentation;
pub use pump::{PumpHand, PumpSensor, pump};
pub use quality::LinkMeter;
pub use replay::{arrivals_of, replay};
pub use source::{Arrival, Notice, Origin, Source};
pub use virtual_sensor::virtual_sensor;
