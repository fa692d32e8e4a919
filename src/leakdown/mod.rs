//! The leak-down (differential) test and the decay test: air is put into a cylinder that stands
//! still, and the same sensor reads how well it is held. Pure.
//!
//! *Leak-down*: air from a regulated supply through a [`Restrictor`], the sensor between restrictor
//! and cylinder. Once in equilibrium, as much flows in through the restrictor as leaks out, so the
//! two pressures give the leak ([`Leak::between`]). *Decay*: cylinder or tester is filled and shut off;
//! volume and fall give the leak ([`decay`]). A [`Watch`] takes what the user says and the
//! samples between, finds each plateau, and says what came of it.

mod beside;
mod decay;
mod leak;
mod place;
mod plateau;
mod results;
mod rounds;
mod running;
mod settings;
mod spec;
mod watch;
pub mod words;

pub use decay::{Course, DecayResult, decay};
pub use leak::{Leak, Sides};
pub use place::{Place, breathes_through_crankcase};
pub use plateau::Plateau;
pub use results::{AirFlag, AirTest, Held};
pub use settings::Settings;
pub use spec::{Filled, ParseRestrictorError, Restrictor, Stage};
pub use watch::{Told, Watch};
