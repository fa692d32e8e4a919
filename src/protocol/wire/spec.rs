//! Version 2 of the protocol file: how pressures travel where a notification is not simply packed
//! numbers. One Rust type a TOML table.

use super::super::number::{ByteOrder, NumberType};
use super::super::values::BleUuid;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What stands between whole and broken part of a number in a text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DecimalMark {
    /// `1.5`.
    #[default]
    Point,
    /// `1,5`.
    Comma,
}

impl DecimalMark {
    /// The character.
    pub const fn byte(self) -> u8 {
        match self {
            Self::Point => b'.',
            Self::Comma => b',',
        }
    }
}

/// Lines of text, one sample each, ended by LF or CR LF, that come in pieces of any length.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Text {
    /// What a line looks like: text as it stands there, and in braces where the fields go, by
    /// their role (or name, where they have one): `P={pressure} bar`. A space stands for one or
    /// more. `{check}` at the end is the check.
    pub line: String,
    /// What stands between whole and broken part of a number.
    #[serde(default)]
    pub decimal: DecimalMark,
    /// The longest line in bytes, its end not counted; at most 512.
    #[serde(default = "longest_line")]
    pub longest: usize,
    /// What stands in place of a number above the range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub over_range: Option<String>,
    /// What stands in place of a number below the range.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub under_range: Option<String>,
    /// What stands in place of a number that is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub no_value: Option<String>,
    /// How `{check}` is worked out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check: Option<Check>,
}

const fn longest_line() -> usize {
    128
}

/// Frames in a stream of bytes that is cut into packets anywhere: start bytes, then what the
/// fields say, then a check.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Frame {
    /// The bytes that every frame begins with, in hexadecimal; 1 to 8.
    pub start: String,
    /// The number that says how long the frame is; without it, all are as long as their fields.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length: Option<Length>,
    /// The longest frame in bytes, all counted; at most 512. Only, and always, with `length`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub longest: Option<usize>,
    /// The check that ends the frame.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check: Option<Check>,
}

/// The number that says how long a frame is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Length {
    /// Where it begins, in bytes from the start of the frame.
    pub at: usize,
    /// How it is written: `u8`, `u16`, `u24` or `u32`.
    #[serde(rename = "type")]
    pub kind: NumberType,
    /// Its byte order, where that differs from the stream's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub byte_order: Option<ByteOrder>,
    /// Bytes of the frame that it does not count.
    #[serde(default)]
    pub plus: usize,
}

/// What kind of check it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CheckKind {
    /// A cyclic redundancy check.
    Crc,
    /// The sum of the bytes.
    Sum,
    /// The exclusive-or of the bytes.
    Xor,
}

/// A check over the bytes before it, by the parameters of the public catalogues of such checks.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Check {
    /// What kind of check it is.
    pub kind: CheckKind,
    /// Its bits: 8, 16 or 32 of a `crc`, 8 or 16 of a `sum`, 8 of a `xor`.
    pub width: u32,
    /// The polynomial of a `crc`, highest term left out, not reflected.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub poly: Option<u32>,
    /// What it begins with.
    #[serde(default)]
    pub init: u32,
    /// A `crc` takes each byte lowest bit first.
    #[serde(default)]
    pub refin: bool,
    /// The result of a `crc` is turned round, lowest bit first.
    #[serde(default)]
    pub refout: bool,
    /// Exclusive-or on the result.
    #[serde(default)]
    pub xorout: u32,
    /// What it gives over the nine bytes `123456789`: if it is given here, the parameters above
    /// are held against it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check: Option<u32>,
    /// Its byte order in a frame, where that differs from the stream's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub byte_order: Option<ByteOrder>,
    /// The first byte that it covers, counted from 0.
    #[serde(default)]
    pub from: usize,
    /// Bytes right before it that it does not cover.
    #[serde(default)]
    pub leave_out: usize,
}

/// How the answer to a question comes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// The stream's characteristic notifies it.
    Notify,
    /// The stream's characteristic is read.
    Read,
    /// The characteristic is listened to where it notifies, and read where it does not.
    NotifyOrRead,
}

/// Pressure that must be asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Ask {
    /// How often, in questions a second.
    pub rate_hz: f64,
    /// How the answer comes.
    pub answer: Answer,
    /// The question: bytes in hexadecimal, 1 to 20. Not needed where reading alone is the question.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub write: Option<String>,
    /// The characteristic that takes the question; without it, the stream's own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub uuid: Option<BleUuid>,
    /// Its service, where the characteristic alone does not tell.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub service: Option<BleUuid>,
    /// The sensor acknowledges each write.
    #[serde(default)]
    pub acknowledged: bool,
}
