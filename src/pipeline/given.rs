//! Files that were given by hand, kept whole with the findings.

use crate::assess::{RuleError, RuleSet};
use crate::engine::{CardError, JobCard};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

/// A text file that was given by hand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct GivenFile {
    /// SHA-256 of the file.
    pub sha256: String,
    /// What it holds.
    pub text: String,
}

impl GivenFile {
    pub(super) fn new(text: &str) -> Self {
        Self {
            sha256: hex::encode(Sha256::digest(text.as_bytes())),
            text: text.to_owned(),
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
