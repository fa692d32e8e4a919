//! What changed between two visits, as [`compare`](super::compare) finds it. `S` is how a thing is
//! said, as in the [`Assessment`](super::Assessment).

use crate::engine::Condition;
use crate::units::Pressure;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Which way a reading went.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Trend {
    /// Up, beyond doubt of the measurement.
    Risen,
    /// Down, beyond doubt of the measurement.
    Fallen,
    /// The uncertainty reaches over no change at all.
    NotClear,
}

/// How a cylinder changed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "Change")]
pub struct Change<S = String> {
    /// The cylinder.
    pub cylinder: String,
    /// Condition of the earlier reading.
    pub condition_before: Condition,
    /// Condition of the later reading; another one only where the visits share none.
    pub condition_after: Condition,
    /// Earlier reading.
    #[serde(rename = "before_pa")]
    pub before: Pressure,
    /// Later reading.
    #[serde(rename = "after_pa")]
    pub after: Pressure,
    /// Later less earlier, as read.
    #[serde(rename = "change_pa")]
    pub change: Pressure,
    /// Expanded uncertainty (k = 2) of [`Self::change`].
    #[serde(rename = "change_expanded_pa")]
    pub change_expanded: Pressure,
    /// Later less earlier, both corrected to one cadence, the standard atmosphere, no tester
    /// volume, no oil and working temperature; none where a card is too thin.
    #[serde(rename = "corrected_change_pa")]
    pub corrected_change: Option<Pressure>,
    /// Expanded uncertainty (k = 2) of [`Self::corrected_change`].
    #[serde(rename = "corrected_change_expanded_pa")]
    pub corrected_change_expanded: Option<Pressure>,
    /// Change of the effective leak in mm²; none where it is not known in both.
    pub leak_change_mm2: Option<f64>,
    /// Expanded uncertainty (k = 2) of [`Self::leak_change_mm2`].
    pub leak_change_expanded_mm2: Option<f64>,
    /// Which way it went, like with like where that could be computed.
    pub trend: Trend,
    /// In a sentence.
    pub text: S,
}

/// What changed between two visits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(rename = "History")]
pub struct History<S = String> {
    /// Label of the earlier visit.
    pub before: String,
    /// Label of the later visit.
    pub after: String,
    /// In one sentence.
    pub verdict: S,
    /// Every cylinder that has a reading in both.
    pub changes: Vec<Change<S>>,
    /// Score of the engine, earlier and later.
    pub scores: (Option<f64>, Option<f64>),
    /// What could not be compared, and what to mind.
    pub cannot_tell: Vec<S>,
}

impl<S> History<S> {
    /// Puts everything that is said otherwise.
    pub fn map<T>(self, say: &impl Fn(S) -> T) -> History<T> {
        History {
            before: self.before,
            after: self.after,
            verdict: say(self.verdict),
            changes: self.changes.into_iter().map(|one| one.map(say)).collect(),
            scores: self.scores,
            cannot_tell: self.cannot_tell.into_iter().map(say).collect(),
        }
    }
}

impl<S> Change<S> {
    fn map<T>(self, say: &impl Fn(S) -> T) -> Change<T> {
        Change {
            cylinder: self.cylinder,
            condition_before: self.condition_before,
            condition_after: self.condition_after,
            before: self.before,
            after: self.after,
            change: self.change,
            change_expanded: self.change_expanded,
            corrected_change: self.corrected_change,
            corrected_change_expanded: self.corrected_change_expanded,
            leak_change_mm2: self.leak_change_mm2,
            leak_change_expanded_mm2: self.leak_change_expanded_mm2,
            trend: self.trend,
            text: say(self.text),
        }
    }
}
