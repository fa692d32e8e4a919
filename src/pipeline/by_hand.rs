//! What was set by hand for an analysis, kept with its findings, so that whoever has the recording
//! can repeat it without being told how.

use super::labels::Label;
use super::options::Options;
use crate::assess::{RuleError, RuleSet};
use crate::engine::{CardError, JobCard};
use crate::signal::Rig;
use crate::units::PressureUnit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

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
    /// How near to the plateau counts as settled, as a share of the reading.
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
}

/// A text file that was given by hand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct GivenFile {
    /// SHA-256 of the file.
    pub sha256: String,
    /// What it holds; left out if it is longer than [`GivenFile::LONGEST`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

impl GivenFile {
    /// The most bytes of a file that are kept with the findings.
    pub const LONGEST: usize = 1 << 16;

    fn new(text: &str) -> Self {
        Self {
            sha256: hex::encode(Sha256::digest(text.as_bytes())),
            text: (text.len() <= Self::LONGEST).then(|| text.to_owned()),
        }
    }
}

/// Something read from a text file, and the file itself.
#[derive(Clone, Debug)]
pub struct Given<T> {
    /// What was read.
    pub value: T,
    /// Where it was read from.
    pub file: GivenFile,
}

impl Given<JobCard> {
    /// Reads a job card.
    ///
    /// # Errors
    /// As [`JobCard::parse`].
    pub fn card(text: &str) -> Result<Self, CardError> {
        Ok(Self {
            value: JobCard::parse(text)?,
            file: GivenFile::new(text),
        })
    }
}

impl Given<RuleSet> {
    /// Reads a rule set.
    ///
    /// # Errors
    /// As [`RuleSet::parse`].
    pub fn rules(text: &str) -> Result<Self, RuleError> {
        Ok(Self {
            value: RuleSet::parse(text)?,
            file: GivenFile::new(text),
        })
    }
}

/// Why what was set by hand cannot be set again.
#[derive(Debug, thiserror::Error)]
pub enum ByHandError {
    /// A file was too long to be kept with the findings.
    #[error("{what} was given by hand and is not in the report: the file with SHA-256 {sha256}")]
    NotKept {
        /// What the file was.
        what: &'static str,
        /// Its hash.
        sha256: String,
    },
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
        }
    }

    /// Whether nothing was.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    /// The same options again, but for those that are given: they take precedence.
    ///
    /// # Errors
    /// If a file that is needed is neither kept nor given, or what is kept cannot be read.
    pub fn options(&self, given: Options) -> Result<Options, ByHandError> {
        let card = match (given.card, &self.card) {
            (None, Some(file)) => Some(Given::card(kept(file, "the job card (--card)")?)?),
            (given, _) => given,
        };
        let rules = match (given.rules, &self.rules) {
            (None, Some(file)) => Some(Given::rules(kept(file, "the rule set (--rules)")?)?),
            (given, _) => given,
        };
        Ok(Options {
            unit: given.unit.or(self.unit),
            also: given.also.or(self.also),
            rig: given.rig.or(self.rig),
            tolerance_share: given.tolerance_share.or(self.tolerance_share),
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

fn kept<'a>(file: &'a GivenFile, what: &'static str) -> Result<&'a str, ByHandError> {
    file.text.as_deref().ok_or_else(|| ByHandError::NotKept {
        what,
        sha256: file.sha256.clone(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_too_long_to_keep_is_asked_for_by_its_hash() {
        let long = format!("{}# {}", RuleSet::SHIPPED, "x".repeat(GivenFile::LONGEST));
        let options = Options {
            rules: Some(Given::rules(&long).unwrap()),
            tolerance_share: Some(0.02),
            ..Options::default()
        };
        let by_hand = ByHand::of(&options);
        let refused = by_hand.options(Options::default()).unwrap_err().to_string();
        let hash = &by_hand.rules.as_ref().unwrap().sha256;
        assert!(
            refused.contains("--rules") && refused.contains(hash),
            "{refused}"
        );
        let again = by_hand.options(Options {
            rules: options.rules,
            ..Options::default()
        });
        assert_eq!(ByHand::of(&again.unwrap()), by_hand);
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
