//! What the verdict says.

use super::Suspicion;
use super::rule::{Measurement, Read, Share};
use crate::assess::results::{Judgement, Origin};
use crate::units::Pressure;

/// The verdict, and what it rests on.
#[derive(Clone, Debug, PartialEq)]
pub enum Ruling {
    /// Nothing was read dry.
    Unread {
        /// There are wet readings.
        wet: bool,
    },
    /// Something was.
    Reached(Box<Reached>),
}

/// The verdict of what was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Reached {
    /// The judgement.
    pub judgement: Judgement,
    /// What decided.
    pub by: Option<Ground>,
    /// More than one cylinder was read in the condition that is judged.
    pub several: bool,
    /// Cylinders below a limit.
    pub low: Vec<String>,
    /// Cylinders without a usable dry reading.
    pub missing: Vec<String>,
    /// An own rule that comes to another end.
    pub beside: Option<Ground>,
    /// All read more than the card predicts.
    pub card_doubted: bool,
    /// The leading cause of what is low, and its probability.
    pub cause: Option<(Suspicion, f64)>,
    /// A matter of the test leads.
    pub test_fault: bool,
    /// It has a throttle, which may have been shut.
    pub throttle: bool,
    /// Its automatic decompressor lets part of each stroke out.
    pub decompressor: bool,
}

/// A number that decided, the limit it is held against, and on whose word.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    /// The number and its limit.
    pub figure: Figure,
    /// On whose word the limit stands.
    pub origin: Origin,
    /// Where the rule comes from.
    pub source: String,
}

/// A number held against a limit. Shares are ratios of pressures.
#[derive(Clone, Debug, PartialEq)]
pub enum Figure {
    /// A reading over the highest.
    ShareOfHighest {
        /// The reading.
        read: Read,
        /// Over the highest.
        share: Share,
    },
    /// A reading over the mean.
    ShareOfMean {
        /// The reading.
        read: Read,
        /// Over the mean.
        share: Share,
    },
    /// How far the cylinders lie apart.
    Spread {
        /// Highest less lowest.
        apart: Measurement,
        /// The most.
        limit: Pressure,
    },
    /// The best reading over what it should be.
    AllLow {
        /// The only cylinder, where there is one.
        only: Option<String>,
        /// The best over what it should read.
        share: Share,
    },
    /// A reading.
    Level {
        /// The reading.
        read: Read,
        /// The limit as it stands here.
        limit: Pressure,
    },
}
