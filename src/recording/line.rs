//! A line of the file: a JSON object that ends in its number and its check value.
//!
//! `{"type":"packet",…,"n":7,"crc":"0a1b2c3d"}` — `n` counts lines from 1, so that a missing or
//! repeated line shows; `crc` is CRC-32/ISO-HDLC over every byte before `,"crc"`, so that damage
//! is pinpointed to its line. A CRC of 32 bits finds every burst of up to 32 bits.

use super::format::Record;
use super::packet_line;
use crc::{CRC_32_ISO_HDLC, Crc, Table};
use std::io::Write;

static CRC: Crc<u32, Table<16>> = Crc::<u32, Table<16>>::new(&CRC_32_ISO_HDLC);

/// `,"crc":"` and `"}` around eight digits.
const CRC_KEY: &[u8] = b",\"crc\":\"";
const CRC_END: &[u8] = b"\"}";
const CRC_LENGTH: usize = CRC_KEY.len() + 8 + CRC_END.len();
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
    /// The line's number was passed already: it is repeated or misplaced.
    #[error("the line has number {found}, at least {expected} should come here")]
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
    let crc = CRC.checksum(&line[start..]);
    line.extend_from_slice(CRC_KEY);
    let _ = write!(line, "{crc:08x}");
    line.extend_from_slice(CRC_END);
    line.push(b'\n');
    Ok(())
}

/// Verifies a line (its line end already taken off). Gives its number, and leaves in `line` the
/// record's JSON alone.
pub(super) fn verify(line: &mut Vec<u8>) -> Result<u64, Damage> {
    let covered = line
        .len()
        .checked_sub(CRC_LENGTH)
        .ok_or(Damage::NoCheckValue)?;
    let (bytes, tail) = line.split_at(covered);
    let stated = tail
        .strip_prefix(CRC_KEY)
        .and_then(|rest| rest.strip_suffix(CRC_END))
        .and_then(check_value)
        .ok_or(Damage::NoCheckValue)?;
    let computed = CRC.checksum(bytes);
    if stated != computed {
        return Err(Damage::CheckValue {
            stated: format!("{stated:08x}"),
            computed: format!("{computed:08x}"),
        });
    }
    let (json_end, number) = number(bytes).ok_or(Damage::NoCheckValue)?;
    line.truncate(json_end);
    line.push(b'}');
    Ok(number)
}

/// Eight lower-case hexadecimal digits: one way to write each value, so that no changed bit is
/// without effect.
fn check_value(digits: &[u8]) -> Option<u32> {
    digits.iter().try_fold(0u32, |value, digit| {
        let digit = match digit {
            b'0'..=b'9' => digit - b'0',
            b'a'..=b'f' => digit - b'a' + 10,
            _ => return None,
        };
        Some(value << 4 | u32::from(digit))
    })
}

/// The number at the end of the bytes that the check value covers, and where its key begins.
fn number(bytes: &[u8]) -> Option<(usize, u64)> {
    let digits = bytes
        .iter()
        .rev()
        .take_while(|byte| byte.is_ascii_digit())
        .count();
    let (before, digits) = bytes.split_at(bytes.len() - digits);
    let json_end = before.strip_suffix(NUMBER_KEY)?.len();
    if digits.first() == Some(&b'0') {
        return None;
    }
    let number = std::str::from_utf8(digits).ok()?.parse().ok()?;
    Some((json_end, number))
}

/// Parses the JSON that [`verify`] left.
pub(super) fn parse(json: &[u8]) -> Result<Record, Damage> {
    if let Some(packet) = packet_line::read(json) {
        return Ok(Record::Packet(packet));
    }
    let record = serde_json::from_slice(json).map_err(|error| Damage::NotARecord {
        why: error.to_string(),
    })?;
    super::limits::check(&record).map_err(|error| Damage::NotARecord {
        why: error.to_string(),
    })?;
    Ok(record)
}
