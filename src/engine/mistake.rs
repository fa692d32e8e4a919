//! What is wrong with a job card.

use std::fmt;

/// One mistake in a job card.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CardMistake {
    /// Line in the file, from 1; none where nothing in the file can be pointed at.
    pub line: Option<usize>,
    /// The field: `engine.bore_mm`, `cylinder[2].name`.
    pub field: String,
    /// What is wrong.
    pub problem: String,
    /// What to do.
    pub remedy: String,
}

impl fmt::Display for CardMistake {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}: ")?;
        }
        if !self.field.is_empty() {
            write!(f, "{}: ", self.field)?;
        }
        write!(f, "{}; {}", self.problem, self.remedy)
    }
}

/// A text that is no usable job card.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the job card cannot be used\n{}", listed(.mistakes))]
pub struct CardError {
    /// Every mistake found, in the order of the file; at least one.
    pub mistakes: Vec<CardMistake>,
}

fn listed(mistakes: &[CardMistake]) -> String {
    let lines: Vec<String> = mistakes.iter().map(|m| format!("  {m}")).collect();
    lines.join("\n")
}
