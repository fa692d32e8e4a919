//! What was set by hand for an analysis, kept with its findings, so that whoever has the recording
//! can repeat it without being told how.

use super::given::{Given, GivenFile};
use super::labels::Label;
use super::options::Options;
use crate::assess::RuleError;
use crate::engine::CardError;
use crate::signal::Rig;
use crate::units::PressureUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What was set by hand. Empty if nothing was: then recording and program alone give the findings.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ByHand {
    /// Unit of the pressures in sentences, instead of the card's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<PressureUnit>,
    /// Second unit, instead of the card's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub also: Option<PressureUnit>,
    /// How the sensor sits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rig: Option<Rig>,
    /// By how much a needle that counts as at rest may still rise, as a share of the reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tolerance_share: Option<f64>,
    /// Names for the runs that the recording does not name, in their order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub runs: Vec<Label>,
    /// The job card that was used instead of the recording's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub card: Option<GivenFile>,
    /// The rule set that was used instead of the one that ships.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rules: Option<GivenFile>,
    /// Every sample of a run was asked for; it changes no result.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub samples: bool,
}

/// Why what was set by hand cannot be set again.
#[derive(Debug, thiserror::Error)]
pub enum ByHandError {
    /// The card that is kept is none.
    #[error("the job card in the report: {0}")]
    Card(#[from] CardError),
    /// The rule set that is kept is none.
    #[error("the rule set in the report: {0}")]
    Rules(#[from] RuleError),
}

impl ByHand {
    /// What the options set by hand.
    pub fn of(options: &Options) -> Self {
        Self {
            unit: options.unit,
            also: options.also,
            rig: options.rig,
            tolerance_share: options.tolerance_share,
            runs: options.labels.clone(),
            card: options.card.as_ref().map(|given| given.file.clone()),
            rules: options.rules.as_ref().map(|given| given.file.clone()),
            samples: options.samples,
        }
    }

    /// Whether nothing was.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// The same options again, but for those that are given: they take precedence.
    ///
    /// # Errors
    /// If a file that is kept cannot be used.
    pub fn options(&self, given: Options) -> Result<Options, ByHandError> {
        let card = match (given.card, &self.card) {
            (None, Some(file)) => Some(Given::card(&file.text)?),
            (given, _) => given,
        };
        let rules = match (given.rules, &self.rules) {
            (None, Some(file)) => Some(Given::rules(&file.text)?),
            (given, _) => given,
        };
        Ok(Options {
            unit: given.unit.or(self.unit),
            also: given.also.or(self.also),
            rig: given.rig.or(self.rig),
            tolerance_share: given.tolerance_share.or(self.tolerance_share),
            samples: given.samples || self.samples,
            labels: if given.labels.is_empty() {
                self.runs.clone()
            } else {
                given.labels
            },
            card,
            rules,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assess::RuleSet;

    #[test]
    fn what_is_given_takes_precedence_over_what_was_set() {
        let options = Options {
            rules: Some(Given::rules(RuleSet::SHIPPED).unwrap()),
            tolerance_share: Some(0.02),
            ..Options::default()
        };
        let by_hand = ByHand::of(&options);
        let again = by_hand.options(Options::default()).unwrap();
        assert_eq!(ByHand::of(&again), by_hand);
        let given = Options {
            tolerance_share: Some(0.03),
            ..Options::default()
        };
        let again = by_hand.options(given).unwrap();
        assert_eq!(again.tolerance_share, Some(0.03));
        assert!(again.rules.is_some());
    }

    #[test]
    fn a_kept_card_that_is_none_is_refused() {
        let by_hand = ByHand {
            card: Some(GivenFile::new("bore = \"wide\"")),
            ..ByHand::default()
        };
        let refused = by_hand.options(Options::default());
        assert!(matches!(refused, Err(ByHandError::Card(_))));
    }
}
