//! What can be said of an engine, as data in SI units. [`say`](super::say) makes the words, once
//! somebody has said in which units.

mod advice;
mod beside;
mod history;
mod rule;
mod verdict;

pub use advice::{Again, Gap, Look, Missing, NextStep, Note};
pub use beside::{Like, Repair, Suspicion};
pub use history::{Between, Moved, Uncompared};
pub use rule::{Applied, LimitHere, Measurement, Read, Share};
pub use verdict::{Figure, Ground, Reached, Ruling};

use super::results::{Judgement, LeakArea, Sign};
use crate::engine::expected::Basis;
use crate::leakdown::Leak;

/// Whatever is said of one visit or of two. Uncertainties are standard ones.
#[derive(Clone, Debug, PartialEq)]
pub enum Saying {
    /// The verdict.
    Verdict(Ruling),
    /// A rule that was applied, and how it judged.
    Rule(Applied, Judgement),
    /// Published rules come to different ends.
    Disagreement {
        /// Those that are kept: key and source.
        passed: Vec<(String, String)>,
        /// Those that are not.
        failed: Vec<(String, String)>,
    },
    /// A reading brought to like conditions.
    Correction {
        /// What for.
        like: Like,
        /// Corrected over uncorrected.
        factor: f64,
    },
    /// The leak that a leak-down test found beside that of cranking.
    LeakDown {
        /// The cylinder.
        cylinder: String,
        /// By air; none where nothing was held.
        found: Option<Leak>,
        /// By cranking.
        cranked: Option<LeakArea>,
        /// Whether the two agree.
        agrees: Option<bool>,
    },
    /// What an expected reading rests on.
    Basis(Basis),
    /// A cause.
    Cause(Suspicion),
    /// A piece of evidence.
    Evidence {
        /// What was seen.
        sign: Sign,
        /// By what share of the reading a held one falls in a second, where it was seen to.
        falls: Option<f64>,
    },
    /// A repair.
    Repair(Repair),
    /// What a buyer may allow for repairs.
    Allowance {
        /// Sum of cost times probability.
        expected: f64,
        /// Currency label.
        currency: String,
        /// Repairs that may be needed and whose cost the card does not give, with their
        /// probabilities.
        missing: Vec<(Repair, f64)>,
    },
    /// What is taken for granted.
    Note(Note),
    /// What cannot be told.
    Gap(Gap),
    /// What to do next.
    NextStep(NextStep),
    /// What two visits come to.
    Between(Between),
    /// How a reading moved between them.
    Moved(Moved),
    /// What could not be compared.
    Uncompared(Uncompared),
}
