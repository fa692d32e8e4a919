//! What the engine is and should have: job card, standard atmosphere, expected cranking pressure.
//! Pure.

mod card;

pub use card::{
    Condition, Cycle, CylinderSpec, Display, EngineSpec, JobCard, Limits, Site, Start, Tester,
};
