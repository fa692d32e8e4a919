//! Numbers as they stand in a payload: integers of one to four bytes, IEEE 754 single precision,
//! and the two decimal formats of IEEE 11073-20601 (SFLOAT, 16 bits; FLOAT, 32 bits).

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Order of the bytes of a number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ByteOrder {
    /// Lowest byte first, as the Bluetooth SIG's own characteristics do.
    #[default]
    Little,
    /// Highest byte first.
    Big,
}

/// How a number is written in a payload.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum NumberType {
    /// Unsigned, 1 byte.
    U8,
    /// Two's complement, 1 byte.
    I8,
    /// Unsigned, 2 bytes.
    U16,
    /// Two's complement, 2 bytes.
    I16,
    /// Unsigned, 3 bytes.
    U24,
    /// Two's complement, 3 bytes.
    I24,
    /// Unsigned, 4 bytes.
    U32,
    /// Two's complement, 4 bytes.
    I32,
    /// IEEE 754 single precision, 4 bytes.
    F32,
    /// IEEE 11073-20601 SFLOAT: 4-bit exponent and 12-bit mantissa, base 10, 2 bytes.
    Sfloat,
    /// IEEE 11073-20601 FLOAT: 8-bit exponent and 24-bit mantissa, base 10, 4 bytes.
    Float,
    /// A decimal number in a line of text, `-12.5`; nowhere else. Version 2.
    Decimal,
}

/// What stands in the bytes of a number, before scale and unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Raw {
    /// An integer type's value.
    Integer(i64),
    /// A floating type's value; finite.
    Real(f64),
    /// Not a number.
    NotANumber,
    /// SFLOAT and FLOAT: not at this resolution.
    NotAtThisResolution,
    /// SFLOAT and FLOAT: the code reserved for future use.
    Reserved,
    /// Positive infinity.
    PlusInfinity,
    /// Negative infinity.
    MinusInfinity,
}

impl NumberType {
    /// Length in bytes.
    pub const fn size(self) -> usize {
        match self {
            Self::U8 | Self::I8 => 1,
            Self::U16 | Self::I16 | Self::Sfloat => 2,
            Self::U24 | Self::I24 => 3,
            Self::U32 | Self::I32 | Self::F32 | Self::Float => 4,
            // How a number that was read from a text is handed on: double precision.
            Self::Decimal => 8,
        }
    }

    /// Lowest and highest value of an integer type; none for the others.
    pub const fn limits(self) -> Option<(i64, i64)> {
        let bits = self.size() as u32 * 8;
        match self {
            Self::U8 | Self::U16 | Self::U24 | Self::U32 => Some((0, (1 << bits) - 1)),
            Self::I8 | Self::I16 | Self::I24 | Self::I32 => {
                Some((-(1 << (bits - 1)), (1 << (bits - 1)) - 1))
            }
            Self::F32 | Self::Sfloat | Self::Float | Self::Decimal => None,
        }
    }

    /// Whether it is an unsigned integer: what sequence, tick, count and status must be.
    pub const fn is_unsigned(self) -> bool {
        matches!(self, Self::U8 | Self::U16 | Self::U24 | Self::U32)
    }

    /// As it is written in a protocol file.
    pub const fn name(self) -> &'static str {
        match self {
            Self::U8 => "u8",
            Self::I8 => "i8",
            Self::U16 => "u16",
            Self::I16 => "i16",
            Self::U24 => "u24",
            Self::I24 => "i24",
            Self::U32 => "u32",
            Self::I32 => "i32",
            Self::F32 => "f32",
            Self::Sfloat => "sfloat",
            Self::Float => "float",
            Self::Decimal => "decimal",
        }
    }

    /// Reads the number at the start of `bytes`; none if they are too few.
    #[inline]
    pub fn read(self, bytes: &[u8], order: ByteOrder) -> Option<Raw> {
        Some(match self {
            Self::U8 => Raw::Integer(start::<1>(bytes, order)?.into()),
            Self::U16 => Raw::Integer(start::<2>(bytes, order)?.into()),
            Self::U24 => Raw::Integer(start::<3>(bytes, order)?.into()),
            Self::U32 => Raw::Integer(start::<4>(bytes, order)?.into()),
            Self::I8 => Raw::Integer(sign_extended(start::<1>(bytes, order)?, 8)),
            Self::I16 => Raw::Integer(sign_extended(start::<2>(bytes, order)?, 16)),
            Self::I24 => Raw::Integer(sign_extended(start::<3>(bytes, order)?, 24)),
            Self::I32 => Raw::Integer(sign_extended(start::<4>(bytes, order)?, 32)),
            Self::F32 => from_single(f32::from_bits(start::<4>(bytes, order)?)),
            Self::Sfloat => decimal(start::<2>(bytes, order)?, 12, 4),
            Self::Float => decimal(start::<4>(bytes, order)?, 24, 8),
            Self::Decimal => from_double(f64::from_le_bytes(*bytes.first_chunk()?)),
        })
    }

    /// Appends the number to `bytes`. An integer outside [`Self::limits`] is held at the limit; a
    /// real number is rounded to the nearest that the type can tell.
    pub fn write(self, raw: Raw, order: ByteOrder, bytes: &mut Vec<u8>) {
        let word = match self {
            Self::F32 => to_single(raw).to_bits(),
            Self::Sfloat => to_decimal(raw, 12, 4),
            Self::Float => to_decimal(raw, 24, 8),
            Self::Decimal => {
                bytes.extend_from_slice(&to_double(raw).to_le_bytes());
                return;
            }
            // Each by name, so that a new type is missed here by the compiler and not by a reader.
            Self::U8
            | Self::I8
            | Self::U16
            | Self::I16
            | Self::U24
            | Self::I24
            | Self::U32
            | Self::I32 => to_integer(raw, self.limits().unwrap_or_default()),
        };
        let size = self.size();
        match order {
            ByteOrder::Little => bytes.extend_from_slice(&word.to_le_bytes()[..size]),
            ByteOrder::Big => bytes.extend_from_slice(&word.to_be_bytes()[4 - size..]),
        }
    }
}

/// The first bytes as an unsigned word; none if they are too few.
fn start<const SIZE: usize>(bytes: &[u8], order: ByteOrder) -> Option<u32> {
    Some(word::<SIZE>(bytes.first_chunk()?, order))
}

/// Up to four bytes as an unsigned word.
#[inline]
pub(super) fn word<const SIZE: usize>(bytes: &[u8; SIZE], order: ByteOrder) -> u32 {
    let join = |word: u32, byte: &u8| word << 8 | u32::from(*byte);
    match order {
        ByteOrder::Little => bytes.iter().rev().fold(0, join),
        ByteOrder::Big => bytes.iter().fold(0, join),
    }
}

/// The low `bits` of `word` as a two's complement number.
fn sign_extended(word: u32, bits: u32) -> i64 {
    let shift = 64 - bits;
    (i64::from(word) << shift) >> shift
}

fn from_single(value: f32) -> Raw {
    from_double(f64::from(value))
}

fn from_double(value: f64) -> Raw {
    if value.is_nan() {
        Raw::NotANumber
    } else if value == f64::INFINITY {
        Raw::PlusInfinity
    } else if value == f64::NEG_INFINITY {
        Raw::MinusInfinity
    } else {
        Raw::Real(value)
    }
}

/// The special values are tested on the whole word, so they need exponent 0: IEEE 11073-20601
/// defines them so. A word like 0x17FF is the ordinary number 2047 × 10.
fn decimal(word: u32, mantissa_bits: u32, exponent_bits: u32) -> Raw {
    let top = (1u32 << (mantissa_bits - 1)) - 1;
    match word {
        w if w == top - 1 => Raw::PlusInfinity,
        w if w == top => Raw::NotANumber,
        w if w == top + 1 => Raw::NotAtThisResolution,
        w if w == top + 2 => Raw::Reserved,
        w if w == top + 3 => Raw::MinusInfinity,
        _ => {
            let mantissa = sign_extended(word & ((1 << mantissa_bits) - 1), mantissa_bits);
            let exponent = sign_extended(word >> mantissa_bits, exponent_bits);
            Raw::Real(scaled_by_ten(mantissa, exponent))
        }
    }
}

/// `mantissa × 10^exponent`, correctly rounded: up to 10²² a power of ten is exact as `f64`, so
/// one operation rounds once; beyond, the decimal parser does.
fn scaled_by_ten(mantissa: i64, exponent: i64) -> f64 {
    match exponent {
        0..=22 => mantissa as f64 * power_of_ten(exponent),
        -22..=-1 => mantissa as f64 / power_of_ten(-exponent),
        _ => format!("{mantissa}e{exponent}").parse().unwrap_or(0.0),
    }
}

/// Exact for 0 to 22.
fn power_of_ten(exponent: i64) -> f64 {
    (0..exponent).fold(1.0, |power, _| power * 10.0)
}

fn to_integer(raw: Raw, (low, high): (i64, i64)) -> u32 {
    let value = match raw {
        Raw::Integer(value) => value,
        Raw::Real(value) => value.round() as i64,
        Raw::MinusInfinity => low,
        _ => high,
    };
    value.clamp(low, high) as u32
}

fn to_single(raw: Raw) -> f32 {
    to_double(raw) as f32
}

fn to_double(raw: Raw) -> f64 {
    match raw {
        Raw::Integer(value) => value as f64,
        Raw::Real(value) => value,
        Raw::PlusInfinity => f64::INFINITY,
        Raw::MinusInfinity => f64::NEG_INFINITY,
        _ => f64::NAN,
    }
}

/// The smallest exponent at which the mantissa still fits keeps the most digits.
fn to_decimal(raw: Raw, mantissa_bits: u32, exponent_bits: u32) -> u32 {
    let top = (1u32 << (mantissa_bits - 1)) - 1;
    let value = match raw {
        Raw::PlusInfinity => return top - 1,
        Raw::NotANumber => return top,
        Raw::NotAtThisResolution => return top + 1,
        Raw::Reserved => return top + 2,
        Raw::MinusInfinity => return top + 3,
        Raw::Integer(value) => value as f64,
        Raw::Real(value) => value,
    };
    if value == 0.0 {
        return 0;
    }
    let edge = f64::from(top);
    let half = 1i64 << (exponent_bits - 1);
    // No digit beyond these is worth keeping, and all powers up to here are exact.
    for exponent in (-half).max(-20)..half.min(20) {
        let mantissa = if exponent < 0 {
            value * power_of_ten(-exponent)
        } else {
            value / power_of_ten(exponent)
        };
        let mantissa = mantissa.round();
        // At exponent 0 the outermost mantissas are the special values.
        let (lowest, highest) = match exponent {
            0 => (2.0 - edge, edge - 2.0),
            _ => (-edge - 1.0, edge),
        };
        if (lowest..=highest).contains(&mantissa) {
            let mantissa = mantissa as i64 as u32 & ((1 << mantissa_bits) - 1);
            let exponent = exponent as u32 & ((1 << exponent_bits) - 1);
            return exponent << mantissa_bits | mantissa;
        }
    }
    if value > 0.0 { top - 1 } else { top + 3 }
}
