//! How sound the recording is that the records came from.

use crate::recording::{Damage, SealState};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Stretches of damage that are listed one by one; all lines are counted.
const MOST_STRETCHES: usize = 100;

/// How sound the recording is that the records came from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Soundness {
    /// SHA-256 of the recording up to its seal; none if it is not sealed.
    pub seal: Option<String>,
    /// The seal was checked and holds.
    pub seal_holds: bool,
    /// Lines that could not be used.
    pub damaged_lines: u64,
    /// Lines that are missing.
    pub missing_lines: u64,
    /// Where; the first hundred stretches.
    pub damage: Vec<Stretch>,
}

/// Lines of a recording that could not be used, or are missing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Stretch {
    /// The first of them, by its place in the file; where lines are missing, the one after them.
    pub line: u64,
    /// How many there are.
    pub lines: u64,
    /// What is the matter with them.
    pub what: Lost,
}

/// What is the matter with lines of a recording.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Lost {
    /// They were changed, or are no lines of a recording, and cannot be used.
    Damaged,
    /// They stand where they do not belong, or a second time.
    Misplaced,
    /// They are not there.
    Missing,
    /// The file breaks off within the line.
    CutOff,
}

impl Soundness {
    /// Counts what is the matter with a line, or with so many lines on end.
    pub fn damaged(&mut self, line: u64, count: u64, damage: &Damage) {
        let (what, lines) = match damage {
            Damage::Missing { lines } => (Lost::Missing, *lines),
            Damage::OutOfOrder { .. } => (Lost::Misplaced, count),
            Damage::TornTail => (Lost::CutOff, count),
            _ => (Lost::Damaged, count),
        };
        match what {
            Lost::Missing => self.missing_lines = self.missing_lines.saturating_add(lines),
            _ => self.damaged_lines += lines,
        }
        let full = self.damage.len() == MOST_STRETCHES;
        let joins = |last: &&mut Stretch| {
            last.what == what && what != Lost::Missing && last.line + last.lines == line
        };
        match self.damage.last_mut().filter(joins) {
            Some(last) => last.lines += lines,
            None if full => {}
            None => self.damage.push(Stretch { line, lines, what }),
        }
    }

    /// Takes over what became of the seal.
    pub fn sealed(&mut self, state: &SealState) {
        (self.seal, self.seal_holds) = match state {
            SealState::Missing => (None, false),
            SealState::Holds { sha256 } => (Some(sha256.clone()), true),
            SealState::Broken { stated, .. } => (Some(stated.clone()), false),
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_are_told_together_and_the_list_is_bounded() {
        let mut soundness = Soundness::default();
        for line in [3, 4, 5, 9] {
            soundness.damaged(line, 1, &Damage::NoCheckValue);
        }
        soundness.damaged(12, 1, &Damage::Missing { lines: 7 });
        let stretch = |line, lines, what| Stretch { line, lines, what };
        assert_eq!(
            soundness.damage,
            [
                stretch(3, 3, Lost::Damaged),
                stretch(9, 1, Lost::Damaged),
                stretch(12, 7, Lost::Missing),
            ]
        );
        assert_eq!((soundness.damaged_lines, soundness.missing_lines), (4, 7));
        for line in 100..10_000 {
            soundness.damaged(2 * line, 1, &Damage::TooLong);
        }
        assert_eq!(soundness.damage.len(), MOST_STRETCHES);
        assert_eq!(soundness.damaged_lines, 4 + 9900);
    }
}
