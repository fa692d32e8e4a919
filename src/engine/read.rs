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
    let line = error.span().map(|span| line_of(text, span.start));
    let written = line.and_then(|line| text.lines().nth(line - 1));
    let (problem, remedy) = plain(error.message());
    CardMistake {
        line,
        field: written.and_then(entry).unwrap_or_default().to_owned(),
        problem,
        remedy: format!("{remedy}`needlerest guide card` explains every entry"),
    }
}

/// The entry that a line fills in; none if the line is no entry.
fn entry(line: &str) -> Option<&str> {
    let name = line.split_once('=')?.0.trim();
    let plain = |c: char| c.is_ascii_alphanumeric() || c == '_';
    (!name.is_empty() && name.chars().all(plain)).then_some(name)
}

/// The TOML reader's message in plain words, and what to do where that can be said.
fn plain(message: &str) -> (String, &'static str) {
    const NUMBER: &str = "write a number without quotes, such as 9.0; ";
    const QUOTED: &str = "write it in quotes, such as \"left\"; ";
    let message = message.trim().replace('\n', ", ");
    let bare = |text: &str| {
        text.replace('`', "")
            .replace("string ", "")
            .replace("boolean ", "")
    };
    let found = message.strip_prefix("invalid type: ");
    if let Some((found, wanted)) = found.and_then(|rest| rest.split_once(", expected ")) {
        let kind = wanted.split(' ').next_back().unwrap_or(wanted);
        let found = bare(found)
            .replace("integer ", "")
            .replace("floating point ", "");
        return match kind {
            "f64" | "f32" | "u8" | "u16" | "u32" | "u64" | "usize" | "i64" => {
                (format!("{found} is not a number"), NUMBER)
            }
            "string" => (format!("{found} is not a text in quotes"), QUOTED),
            _ => (format!("{found} does not belong here"), ""),
        };
    }
    if message.starts_with("string values must be quoted") {
        return ("a text has to stand in quotes".to_owned(), QUOTED);
    }
    let named = |prefix: &str| {
        let rest = message.strip_prefix(prefix)?;
        let (name, rest) = rest.split_once('`')?;
        let known = rest.split_once("expected ").map(|(_, known)| known);
        let known = known.map(|known| known.replace('`', "").replace("one of ", ""));
        Some((name.to_owned(), known.unwrap_or_default()))
    };
    if let Some((name, known)) = named("unknown field `") {
        return (
            format!("a card has no entry \"{name}\" here; it has {known}"),
            "",
        );
    }
    if let Some((name, known)) = named("unknown variant `") {
        return (
            format!("\"{name}\" is none of the words known here: {known}"),
            "",
        );
    }
    if let Some((name, _)) = named("missing field `") {
        return (format!("the entry \"{name}\" is missing"), "");
    }
    (message, "")
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
