//! What is found in a file.

use super::format::Record;
use super::line::Damage;

/// A line of a recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Which line of the file, counted from 1.
    pub number: u64,
    /// So many lines on end, this one being the first; 1 but for lines too short to hold anything.
    pub count: u64,
    /// What it holds, or why it cannot be used.
    pub outcome: Result<Record, Damage>,
}

/// What became of the seal, once every line has been read.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(tag = "seal", rename_all = "kebab-case")]
pub enum SealState {
    /// There is none: recording was cut short, or is still going on.
    Missing,
    /// It agrees with every byte before it.
    Holds {
        /// SHA-256 of all bytes before the seal's line.
        sha256: String,
    },
    /// It disagrees with what comes before it: the file was changed after it was sealed.
    Broken {
        /// What the seal says.
        stated: String,
        /// What the bytes give.
        computed: String,
    },
}
