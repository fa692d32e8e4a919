//! What a line of text looks like, read and written from left to right in one go: nothing is tried
//! twice, so no line can take long.

use super::spec::{Check, DecimalMark};
use crate::protocol::number::{NumberType, Raw};
use crate::protocol::slot::{Slot, Value};
use crate::protocol::spec::{Field, Stream};
use std::ops::Range;

/// A part of a line.
#[derive(Clone, Debug, PartialEq)]
enum Piece {
    /// These bytes.
    Text(Vec<u8>),
    /// One or more spaces or tabs.
    Space,
    /// The field with this index.
    Field(usize),
    /// The check.
    Check,
}

/// What a line looks like.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::protocol) struct Pattern {
    pieces: Vec<Piece>,
    slots: Vec<Slot>,
    mark: u8,
    /// What stands for above the range, below it, nothing.
    words: Vec<(Vec<u8>, Value)>,
    check: Option<Check>,
    size: usize,
}

/// Why a line cannot be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::protocol) enum Unfit {
    /// It is of another kind: it does not even begin as the pattern does.
    Other,
    /// It begins like one but does not go on so.
    Spoilt,
    /// Its check failed.
    Check,
}

/// A line that was read.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::protocol) struct ReadLine {
    /// Its numbers, packed as the layout has them.
    pub payload: Vec<u8>,
    /// Where each field stands in the line, by the fields' index.
    pub places: Vec<Range<usize>>,
}

/// How many hexadecimal digits a check has in a line.
pub(in crate::protocol) fn check_digits(check: &Check) -> usize {
    check.size() * 2
}

impl Pattern {
    /// None if the stream is not of text. The error says what is wrong with the pattern.
    pub(in crate::protocol) fn new(
        stream: &Stream,
        slots: &[Slot],
    ) -> Option<Result<Self, String>> {
        let text = stream.text.as_ref()?;
        let words = [
            (&text.over_range, Value::Over),
            (&text.under_range, Value::Under),
            (&text.no_value, Value::Nothing),
        ];
        let words = words
            .into_iter()
            .filter_map(|(word, value)| Some((word.as_ref()?.clone().into_bytes(), value)));
        let pieces = pieces(&text.line, &stream.fields);
        let words = words.collect();
        Some(pieces.map(|pieces| Self {
            pieces,
            slots: slots.to_vec(),
            mark: text.decimal.byte(),
            words,
            check: text.check.clone(),
            size: slots.iter().map(Slot::end).max().unwrap_or(0),
        }))
    }

    /// A line whose beginning is missing might still fit.
    pub(in crate::protocol) fn begins_with_a_number(&self) -> bool {
        self.check.is_none() && !matches!(self.pieces.first(), Some(Piece::Text(_)))
    }

    /// What is wrong with what stands next to a number, if anything is.
    pub(in crate::protocol) fn ambiguity(&self) -> Option<String> {
        let decimal = |at: usize| {
            self.slots
                .get(at)
                .is_some_and(|slot| slot.kind == NumberType::Decimal)
        };
        self.pieces.windows(2).find_map(|pair| match pair {
            [
                Piece::Field(_) | Piece::Check,
                Piece::Field(_) | Piece::Check,
            ] => Some(
                "two numbers stand side by side, with nothing to tell where one ends".to_owned(),
            ),
            [Piece::Field(at), Piece::Text(text)] => {
                let first = *text.first()?;
                let of_number = first.is_ascii_digit()
                    || decimal(*at) && (first == self.mark || matches!(first, b'e' | b'E'));
                let shown = char::from(first);
                of_number.then(|| format!("\"{shown}\" after a number could be part of it"))
            }
            _ => None,
        })
    }

    /// Whether a `{check}` stands where it may: at the end, if there is a check, and only then.
    pub(in crate::protocol) fn check_is_at_its_place(&self) -> bool {
        let at = self.pieces.iter().position(|piece| *piece == Piece::Check);
        let last = self.pieces.len().checked_sub(1);
        if self.check.is_some() {
            at == last
        } else {
            at.is_none()
        }
    }

    /// The field that the pattern has not, or has twice.
    pub(in crate::protocol) fn not_once(&self) -> Option<usize> {
        let times = |index: usize| {
            let here = |piece: &&Piece| **piece == Piece::Field(index);
            self.pieces.iter().filter(here).count()
        };
        (0..self.slots.len()).find(|index| times(*index) != 1)
    }

    /// Reads a line, its end cut off.
    pub(in crate::protocol) fn read(&self, line: &[u8]) -> Result<ReadLine, Unfit> {
        let mut read = ReadLine {
            payload: vec![0; self.size],
            places: vec![0..0; self.slots.len()],
        };
        let mut at = blanks(line, 0);
        for (index, piece) in self.pieces.iter().enumerate() {
            let unfit = if index == 0 {
                Unfit::Other
            } else {
                Unfit::Spoilt
            };
            let rest = line.get(at..).unwrap_or_default();
            match piece {
                Piece::Text(text) => {
                    at += rest
                        .strip_prefix(text.as_slice())
                        .map(|_| text.len())
                        .ok_or(unfit)?;
                }
                Piece::Space => {
                    let after = blanks(line, at);
                    if after == at {
                        return Err(unfit);
                    }
                    at = after;
                }
                Piece::Field(field) => {
                    let slot = self.slots.get(*field).ok_or(unfit)?;
                    let begins = blanks(line, at);
                    let (raw, length) = self.number(slot, &line[begins..]).ok_or(unfit)?;
                    at = begins + length;
                    slot.put(raw, &mut read.payload);
                    if let Some(place) = read.places.get_mut(*field) {
                        *place = begins..at;
                    }
                }
                Piece::Check => at = self.checked(line, at)?,
            }
        }
        if blanks(line, at) == line.len() {
            Ok(read)
        } else {
            Err(Unfit::Spoilt)
        }
    }

    /// Holds the check at this place; gives where it ends.
    fn checked(&self, line: &[u8], at: usize) -> Result<usize, Unfit> {
        let check = self.check.as_ref().ok_or(Unfit::Spoilt)?;
        let end = at + check_digits(check);
        let digits = line.get(at..end).ok_or(Unfit::Spoilt)?;
        let hexadecimal = digits.iter().all(u8::is_ascii_hexdigit);
        let digits = std::str::from_utf8(digits).map_err(|_| Unfit::Spoilt)?;
        let sent = u32::from_str_radix(digits, 16).map_err(|_| Unfit::Spoilt)?;
        if hexadecimal && check.over(&line[..at]) == Some(sent) {
            Ok(end)
        } else {
            Err(Unfit::Check)
        }
    }

    /// The number, or the word in place of one, that begins here, and its length.
    fn number(&self, slot: &Slot, rest: &[u8]) -> Option<(Raw, usize)> {
        let is_decimal = slot.kind == NumberType::Decimal;
        let length = if is_decimal {
            decimal_length(rest, self.mark)
        } else {
            whole_length(rest)
        };
        let Some(length) = length else {
            if !is_decimal {
                return None;
            }
            let words = self.words.iter().filter(|(word, _)| rest.starts_with(word));
            let (word, value) = words.max_by_key(|(word, _)| word.len())?;
            return Some((slot.code(*value), word.len()));
        };
        let mut text = String::from_utf8(rest[..length].to_vec()).ok()?;
        if let Some((low, high)) = slot.kind.limits() {
            let number: i64 = text.parse().ok()?;
            return (low..=high)
                .contains(&number)
                .then_some((Raw::Integer(number), length));
        }
        if self.mark != b'.' {
            text = text.replace(char::from(self.mark), ".");
        }
        let number: f64 = text.parse().ok()?;
        number.is_finite().then_some((Raw::Real(number), length))
    }

    /// The line that tells these numbers, with its end.
    pub(in crate::protocol) fn write(&self, payload: &[u8]) -> Vec<u8> {
        let mut line = Vec::new();
        for piece in &self.pieces {
            match piece {
                Piece::Text(text) => line.extend_from_slice(text),
                Piece::Space => line.push(b' '),
                Piece::Field(index) => {
                    let slot = self.slots.get(*index);
                    let text = slot.map(|slot| self.text_of(slot, payload));
                    line.extend(text.unwrap_or_default());
                }
                Piece::Check => {
                    let value = self
                        .check
                        .as_ref()
                        .and_then(|check| check.over(&line).map(|value| check.digits(value)));
                    line.extend(value.unwrap_or_default().into_bytes());
                }
            }
        }
        line.push(b'\n');
        line
    }

    fn text_of(&self, slot: &Slot, payload: &[u8]) -> Vec<u8> {
        let raw = slot.raw(payload).unwrap_or(Raw::Integer(0));
        let word = |value: Value| {
            let found = self.words.iter().find(|(_, meaning)| *meaning == value);
            found.map(|(word, _)| word.clone())
        };
        let number = |number: f64| {
            let text = format!("{number:.*}", slot.digits);
            let mark = char::from(self.mark).to_string();
            text.replace('.', &mark).into_bytes()
        };
        match raw {
            Raw::Integer(number) => number.to_string().into_bytes(),
            Raw::Real(real) => number(real),
            Raw::PlusInfinity => word(Value::Over).unwrap_or_else(|| number(0.0)),
            Raw::MinusInfinity => word(Value::Under).unwrap_or_else(|| number(0.0)),
            _ => word(Value::Nothing).unwrap_or_else(|| number(0.0)),
        }
    }
}

impl DecimalMark {
    /// Whether a word could be taken for a number, or the other way round.
    pub(in crate::protocol) fn begins_a_number(self, word: &str) -> bool {
        decimal_length(word.as_bytes(), self.byte()).is_some()
    }
}

/// Where what comes after spaces and tabs begins.
fn blanks(line: &[u8], at: usize) -> usize {
    let rest = line.get(at..).unwrap_or_default();
    let blank = rest.iter().take_while(|byte| matches!(byte, b' ' | b'\t'));
    at + blank.count()
}

fn digits(bytes: &[u8]) -> usize {
    bytes
        .iter()
        .take_while(|byte| byte.is_ascii_digit())
        .count()
}

fn sign(bytes: &[u8]) -> usize {
    usize::from(matches!(bytes.first(), Some(b'+' | b'-')))
}

/// Length of the whole number that begins here: a sign or none, then digits.
fn whole_length(bytes: &[u8]) -> Option<usize> {
    let sign = sign(bytes);
    let digits = digits(&bytes[sign..]);
    (digits > 0).then_some(sign + digits)
}

/// Length of the decimal number that begins here: a sign or none, digits with or without a mark,
/// and perhaps a power of ten.
fn decimal_length(bytes: &[u8], mark: u8) -> Option<usize> {
    let mut at = sign(bytes);
    let whole = digits(&bytes[at..]);
    at += whole;
    let mut broken = 0;
    if bytes.get(at) == Some(&mark) {
        broken = digits(&bytes[at + 1..]);
        at += 1 + broken;
    }
    if whole + broken == 0 {
        return None;
    }
    if matches!(bytes.get(at), Some(b'e' | b'E')) {
        let power = whole_length(&bytes[at + 1..]);
        at += power.map_or(0, |length| 1 + length);
    }
    Some(at)
}

/// Takes the pattern apart. The error says what is wrong with it.
fn pieces(line: &str, fields: &[Field]) -> Result<Vec<Piece>, String> {
    let mut pieces: Vec<Piece> = Vec::new();
    let mut rest = line;
    while let Some(first) = rest.chars().next() {
        if first == '{' {
            let (name, after) = rest[1..].split_once('}').ok_or("a brace is never closed")?;
            pieces.push(named(name, fields)?);
            rest = after;
            continue;
        }
        if first == '}' {
            return Err("a brace is closed that was never opened".to_owned());
        }
        if !(first.is_ascii_graphic() || first == ' ') {
            return Err(format!(
                "{first:?} cannot stand in a pattern: only printed ASCII can"
            ));
        }
        let byte = first as u8;
        match (pieces.last_mut(), byte) {
            (None | Some(Piece::Space), b' ') => {}
            (_, b' ') => pieces.push(Piece::Space),
            (Some(Piece::Text(text)), _) => text.push(byte),
            _ => pieces.push(Piece::Text(vec![byte])),
        }
        rest = &rest[1..];
    }
    // What stands around a line is passed over anyway.
    if pieces.last() == Some(&Piece::Space) {
        pieces.pop();
    }
    Ok(pieces)
}

fn named(name: &str, fields: &[Field]) -> Result<Piece, String> {
    if name == "check" {
        return Ok(Piece::Check);
    }
    let called = |field: &Field| field.name.as_deref().unwrap_or(field.role.name()) == name;
    fields
        .iter()
        .position(called)
        .map(Piece::Field)
        .ok_or_else(|| format!("no field is called \"{name}\""))
}
