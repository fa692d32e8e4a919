//! What is wrong with a protocol file, and at which line of it.

use std::fmt;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// What is wrong with a protocol file: where, what, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProtocolError {
    /// Line of the file, counted from 1, where it can be told.
    pub line: Option<usize>,
    /// The entry, such as `stream.field[2].type`, where it can be told.
    pub field: Option<String>,
    /// What is wrong; a sentence without a full stop.
    pub what: String,
    /// What to do about it; a sentence without a full stop.
    pub remedy: String,
}

impl std::error::Error for ProtocolError {}

impl fmt::Display for ProtocolError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}: ")?;
        }
        if let Some(field) = &self.field {
            write!(f, "{field}: ")?;
        }
        write!(f, "{}; {}", self.what, self.remedy)
    }
}

/// A finding about an entry, before its line has been looked up.
#[derive(Debug)]
pub(super) struct Unplaced {
    pub path: String,
    pub what: String,
    pub remedy: String,
}

/// A finding about the entry at `path`.
pub(super) fn fault(
    path: impl Into<String>,
    what: impl Into<String>,
    remedy: impl Into<String>,
) -> Unplaced {
    Unplaced {
        path: path.into(),
        what: what.into(),
        remedy: remedy.into(),
    }
}

impl Unplaced {
    /// Looks the line up in the file's text.
    pub(super) fn located(self, text: &str, table: &Spanned<DeTable<'_>>) -> ProtocolError {
        ProtocolError {
            line: Some(line_of(text, locate(table, &self.path))),
            field: Some(self.path),
            what: self.what,
            remedy: self.remedy,
        }
    }
}

/// What the TOML parser objects to.
pub(super) fn from_toml(text: &str, error: &toml::de::Error) -> ProtocolError {
    let line = error.span().map(|span| line_of(text, span.start));
    let source = line.and_then(|line| text.lines().nth(line - 1));
    let field = source
        .and_then(|source| source.split_once('='))
        .map(|(key, _)| key.trim().to_owned());
    ProtocolError {
        line,
        field,
        what: error.message().trim_end_matches('.').replace('\n', ", "),
        remedy: "correct this entry; protocol/README.md says what may stand here".to_owned(),
    }
}

/// Line of a byte position, counted from 1.
fn line_of(text: &str, position: usize) -> usize {
    let before = text.as_bytes().get(..position).unwrap_or(text.as_bytes());
    1 + before
        .split(|byte| *byte == b'\n')
        .count()
        .saturating_sub(1)
}

/// Byte position of the entry at `path`, or of the nearest table around it that exists.
fn locate(table: &Spanned<DeTable<'_>>, path: &str) -> usize {
    let mut position = table.span().start;
    let mut value: Option<&DeValue<'_>> = None;
    for step in path.split('.') {
        let (key, index) = match step.split_once('[') {
            Some((key, rest)) => (key, rest.trim_end_matches(']').parse::<usize>().ok()),
            None => (step, None),
        };
        let inside = match value {
            None => Some(table.get_ref()),
            Some(value) => value.as_table(),
        };
        let found = inside.and_then(|inside| {
            inside
                .iter()
                .find(|(candidate, _)| candidate.get_ref() == key)
        });
        let Some((key, entry)) = found else { break };
        position = key.span().start;
        value = Some(entry.get_ref());
        if let Some(index) = index {
            // Entries of a list are counted from 1 in a path, as people count.
            let item = index
                .checked_sub(1)
                .and_then(|index| entry.get_ref().get(index));
            let Some(item) = item else { break };
            position = item.span().start;
            value = Some(item.get_ref());
        }
    }
    position
}
