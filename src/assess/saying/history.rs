//! What is said of two visits.

use super::rule::Measurement;
use crate::assess::changed::Trend;
use crate::engine::Condition;
use crate::units::Pressure;

/// How a cylinder's reading moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// The cylinder.
    pub cylinder: String,
    /// What the two visits are called.
    pub labels: [String; 2],
    /// The earlier condition and reading.
    pub before: (Condition, Pressure),
    /// The later condition and reading.
    pub after: (Condition, Pressure),
    /// Later less earlier.
    pub change: Measurement,
    /// The same of corrected readings.
    pub like_with_like: Option<Measurement>,
    /// Which way it went.
    pub trend: Trend,
}

/// What two visits come to.
#[derive(Clone, Debug, PartialEq)]
pub enum Between {
    /// The cards are of two engines, by these names.
    TwoEngines(String, String),
    /// No cylinder was read in both.
    NothingInCommon,
    /// Nothing changed beyond the uncertainty.
    Unchanged,
    /// Something did.
    Changed {
        /// What the two visits are called.
        labels: [String; 2],
        /// Cylinders that have risen.
        risen: Vec<String>,
        /// Cylinders that have fallen.
        fallen: Vec<String>,
    },
}

/// What could not be compared, and what to mind.
#[derive(Clone, Debug, PartialEq)]
pub enum Uncompared {
    /// A cylinder without a reading in both visits.
    NotReadInBoth(String),
    /// A cylinder that one of the visits does not know.
    OnlyInOne(String),
    /// Cold in one visit and warm in the other.
    ColdAndWarm,
    /// Different sensors, or not known to be the same.
    OtherSensor,
    /// A card does not let readings be corrected.
    ThinCard,
}
