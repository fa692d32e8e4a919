//! A line of the file: a JSON object that ends in its number and its check value.
//!
//! `{"type":"packet",…,"n":7,"crc":"0a1b2c3d"}` — `n` counts lines from 1, so that a missing or
//! repeated line shows; `crc` is CRC-32/ISO-HDLC over every byte before `,"crc"`, so that damage
//! is pinpointed to its line. A CRC of 32 bits finds every burst of up to 32 bits.

use super::format::Record;
use super::packet_line::{self, DIGITS};
use std::io::Write;

/// `,"crc":"` and `"}` around eight digits.
const CRC_KEY: &[u8] = b",\"crc\":\"";
const CRC_END: &[u8] = b"\"}";
const CRC_LENGTH: usize = CRC_KEY.len() + 8 + CRC_END.len();
/// A line so long, its end included, has no room for a check value.
pub(super) const TOO_SHORT: usize = CRC_LENGTH;
const NUMBER_KEY: &[u8] = b",\"n\":";

/// Why a line cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error, serde::Serialize)]
#[serde(tag = "damage", rename_all = "kebab-case")]
pub enum Damage {
    /// The line does not end in a number and a check value.
    #[error("the line does not end in its check value")]
    NoCheckValue,
    /// The check value disagrees with the line's bytes.
    #[error("the check value is {stated}, the line's bytes give {computed}")]
    CheckValue {
        /// What the line says.
        stated: String,
        /// What its bytes give.
        computed: String,
    },
    /// The check value is right, but the line is no record that is known here.
    #[error("the line is no record: {why}")]
    NotARecord {
        /// What the parser objects to.
        why: String,
    },
    /// The line is longer than any record.
    #[error("the line is longer than {} bytes", super::limits::LINE)]
    TooLong,
    /// Lines that should stand before this one do not.
    #[error("{lines} line(s) before this one are missing")]
    Missing {
        /// How many.
        lines: u64,
    },
    /// The line's number does not belong here: it is repeated or misplaced.
    #[error("the line has number {found} where {expected} should come: repeated or misplaced")]
    OutOfOrder {
        /// Its number.
        found: u64,
        /// The number that should come here.
        expected: u64,
    },
    /// A second header.
    #[error("a header stands in the middle of the file")]
    SecondHeader,
    /// The line comes after the seal and does not resume the session.
    #[error("the line comes after the seal")]
    AfterSeal,
    /// The file's last line breaks off: writing was cut short there.
    #[error("the last line breaks off; writing was cut short there")]
    TornTail,
}

/// Appends a record as line number `n`, with its line end, to `line`.
pub(super) fn write(record: &Record, n: u64, line: &mut Vec<u8>) -> Result<(), serde_json::Error> {
    let start = line.len();
    match record {
        Record::Packet(packet) => packet_line::write(packet, line)?,
        other => serde_json::to_writer(&mut *line, other)?,
    }
    // The object stays open for the two last members.
    line.pop();
    line.extend_from_slice(NUMBER_KEY);
    // Writing to a vector cannot fail.
    let _ = write!(line, "{n}");
    let crc = crc32fast::hash(&line[start..]);
    line.extend_from_slice(CRC_KEY);
    line.extend_from_slice(&check_value(crc));
    line.extend_from_slice(CRC_END);
    line.push(b'\n');
    Ok(())
}

/// Verifies and parses a line: its number, and what it holds.
pub(super) fn read(line: &[u8]) -> Result<(u64, Record), Damage> {
    let (number, json) = verify(line.strip_suffix(b"\n").unwrap_or(line))?;
    Ok((number, parse(json)?))
}

/// Gives a line's number and the record's JSON, which lacks its closing brace.
fn verify(line: &[u8]) -> Result<(u64, &[u8]), Damage> {
    let covered = line
        .len()
        .checked_sub(CRC_LENGTH)
        .ok_or(Damage::NoCheckValue)?;
    let (bytes, tail) = line.split_at(covered);
    let stated = tail
        .strip_prefix(CRC_KEY)
        .and_then(|rest| rest.strip_suffix(CRC_END))
        .ok_or(Damage::NoCheckValue)?;
    let computed = check_value(crc32fast::hash(bytes));
    if *stated != computed {
        if !stated.iter().all(|byte| DIGITS.contains(byte)) {
            return Err(Damage::NoCheckValue);
        }
        let text = |digits: &[u8]| String::from_utf8_lossy(digits).into_owned();
        return Err(Damage::CheckValue {
            stated: text(stated),
            computed: text(&computed),
        });
    }
    number(bytes).ok_or(Damage::NoCheckValue)
}

/// Eight lower-case hexadecimal digits: one way to write each value, so that no changed bit is
/// without effect.
fn check_value(crc: u32) -> [u8; 8] {
    std::array::from_fn(|place| DIGITS[(crc >> (28 - 4 * place) & 15) as usize])
}

/// The number at the end of the bytes that the check value covers, and what stands before it.
fn number(bytes: &[u8]) -> Option<(u64, &[u8])> {
    let digits = bytes
        .iter()
        .rev()
        .take_while(|byte| byte.is_ascii_digit())
        .count();
    let (before, digits) = bytes.split_at(bytes.len() - digits);
    let json = before.strip_suffix(NUMBER_KEY)?;
    if digits.first() == Some(&b'0') {
        return None;
    }
    Some((packet_line::decimal(digits)?, json))
}

fn parse(json: &[u8]) -> Result<Record, Damage> {
    if let Some(packet) = packet_line::read(json) {
        return Ok(Record::Packet(packet));
    }
    let closed = [json, b"}"].concat();
    let record = serde_json::from_slice(&closed).map_err(|error| Damage::NotARecord {
        why: error.to_string(),
    })?;
    super::limits::check(&record).map_err(|error| Damage::NotARecord {
        why: error.to_string(),
    })?;
    Ok(record)
}
