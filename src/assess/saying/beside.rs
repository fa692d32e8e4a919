//! What is said beside the rules: causes, corrections, repairs.

use crate::assess::results::{CauseKind, ValveSide};
use crate::units::{Pressure, Rate};

/// A cause that the readings are consistent with.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspicion {
    /// What it is.
    pub kind: CauseKind,
    /// The cylinder.
    pub cylinder: String,
    /// The two that a gasket lies between, in order.
    pub pair: [String; 2],
    /// The valve at which air is heard.
    pub valve: Option<ValveSide>,
    /// The engine has these two cylinders alone: both are low alike then.
    pub twin: bool,
    /// All cylinders, more than one, read more than the card predicts.
    pub all_high: bool,
}

/// What a reading is brought to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Like {
    /// The crank speed that all have in common.
    Cadence {
        /// Its own.
        from: Rate,
        /// In common.
        to: Rate,
    },
    /// The standard atmosphere.
    Ambient {
        /// Ambient pressure, absolute.
        from: Pressure,
    },
    /// No volume at the plug hole.
    DeadVolume {
        /// What the tester has, in m³.
        m3: f64,
    },
    /// No oil in the chamber.
    Oil {
        /// What was put in, in cm³.
        cm3: f64,
        /// Share of it that is still there (0 to 1).
        left: f64,
    },
    /// Working temperature.
    Warmth,
}

/// A repair that may be needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Repair {
    /// Rings and bore.
    TopEnd,
    /// Valves.
    Valves,
    /// Head gasket.
    Gasket,
    /// Deposits.
    Decoke,
    /// Cam or valve timing.
    Timing,
}
