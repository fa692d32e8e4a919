//! What is wrong with a rule set.

/// What a rule set's `format` says.
pub(super) const FORMAT: &str = "needlerest-rules";
/// The version that is read.
pub(super) const VERSION: u32 = 1;

/// A text that is no usable rule set.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RuleError {
    /// Not TOML, or not in the form of a rule set.
    #[error("rule set, line {line}: {problem}; write rules as in the set that ships")]
    Form {
        /// Line, from 1.
        line: usize,
        /// What the reader said.
        problem: String,
    },
    /// Another kind of file, or another version.
    #[error("this is {found}, not {FORMAT} version {VERSION}; check the first lines of the file")]
    Foreign {
        /// What it says it is.
        found: String,
    },
    /// A value that makes no sense.
    #[error("rule set, {place}: {problem}; {remedy}")]
    Value {
        /// Rule and field.
        place: String,
        /// What is wrong.
        problem: String,
        /// What to do.
        remedy: String,
    },
}
