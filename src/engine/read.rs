//! Reading a job card: every mistake is named with its line, its field and what to do.

use super::mistake::{CardError, CardMistake};
use super::{JobCard, check};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

impl JobCard {
    /// Reads a card from TOML and checks that it makes sense.
    ///
    /// # Errors
    /// A text that is not TOML, an unknown or missing field, a value of the wrong kind, a
    /// duplicate or unknown cylinder, limits that are swapped, geometry no engine has.
    pub fn parse(text: &str) -> Result<Self, CardError> {
        Self::checked(text, check::mistakes)
    }

    /// As [`Self::parse`], for a test that is about to be made: what asks for more oil than is safe
    /// is refused too. (What was recorded with such a card is read all the same.)
    ///
    /// # Errors
    /// As [`Self::parse`]; and more oil than a cylinder of this engine bears.
    pub fn for_cranking(text: &str) -> Result<Self, CardError> {
        Self::checked(text, |card| {
            let mut mistakes = check::mistakes(card);
            mistakes.extend(check::too_much_oil(card));
            mistakes
        })
    }

    fn checked(
        text: &str,
        mistakes_of: impl Fn(&Self) -> Vec<CardMistake>,
    ) -> Result<Self, CardError> {
        let only = |mistake| CardError {
            mistakes: vec![mistake],
        };
        if text.len() > check::MOST_BYTES {
            return Err(only(too_long(text.len())));
        }
        let tree = DeTable::parse(text).map_err(|error| only(syntax_mistake(text, &error)))?;
        let locate = |mistake: &mut CardMistake| {
            mistake.line =
                span_of(tree.get_ref(), &mistake.field).map(|span| line_of(text, span.start));
        };
        // A newer card may hold what is not known here: its version is looked at first.
        if let Some(mut mistake) = newer(tree.get_ref()) {
            locate(&mut mistake);
            return Err(only(mistake));
        }
        let card: Self =
            toml::from_str(text).map_err(|error| only(syntax_mistake(text, &error)))?;
        let mut mistakes = mistakes_of(&card);
        if mistakes.is_empty() {
            return Ok(card);
        }
        mistakes.iter_mut().for_each(locate);
        mistakes.sort_by_key(|mistake| mistake.line);
        Err(CardError { mistakes })
    }
}

/// A card of a version that this program does not know yet.
fn newer(card: &DeTable<'_>) -> Option<CardMistake> {
    let entry = |name: &str| card.get(name).map(toml::Spanned::get_ref);
    let version = entry("version")?.as_integer()?;
    let version = u64::from_str_radix(version.as_str(), version.radix()).ok()?;
    let ours = entry("format")?.as_str() == Some(check::FORMAT);
    (ours && version > check::VERSION.into()).then(|| check::unknown_version(version))
}

fn too_long(length: usize) -> CardMistake {
    CardMistake {
        line: None,
        field: String::new(),
        problem: format!("it is {length} bytes long"),
        remedy: format!("a job card has at most {} bytes", check::MOST_BYTES),
    }
}

/// The mistake that the TOML reader stopped at.
fn syntax_mistake(text: &str, error: &toml::de::Error) -> CardMistake {
    CardMistake {
        line: error.span().map(|span| line_of(text, span.start)),
        field: String::new(),
        problem: error.message().trim().replace('\n', ", "),
        remedy: "see protocol/job-card.md for the keys of a card and how each is written".into(),
    }
}

/// Line number, from 1, of a byte offset.
fn line_of(text: &str, offset: usize) -> usize {
    let before = text.as_bytes().iter().take(offset);
    1 + before.filter(|byte| **byte == b'\n').count()
}

/// Where a field written as `table.key` or `list[2].key` (from 1) stands in the text; the
/// closest enclosing thing where the field itself is missing.
fn span_of(root: &DeTable<'_>, field: &str) -> Option<Range<usize>> {
    let mut table = root;
    let mut found = None;
    for part in field.split('.') {
        let (name, index) = match part.split_once('[') {
            Some((name, rest)) => (name, rest.trim_end_matches(']').parse::<usize>().ok()),
            None => (part, None),
        };
        let Some((key, value)) = table.iter().find(|(key, _)| key.get_ref() == name) else {
            break;
        };
        found = Some(key.span());
        let mut inner = value;
        if let (Some(index), DeValue::Array(items)) = (index, value.get_ref())
            && let Some(item) = index.checked_sub(1).and_then(|at| items.get(at))
        {
            found = Some(item.span());
            inner = item;
        }
        match inner.get_ref() {
            DeValue::Table(next) => table = next,
            _ => break,
        }
    }
    found
}
