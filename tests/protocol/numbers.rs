//! Encodings, held against examples that their makers or users print; each test says who.

use needlerest::protocol::{ByteOrder, NumberType, Raw};

fn read(kind: NumberType, bytes: &[u8]) -> Raw {
    kind.read(bytes, ByteOrder::Little).unwrap()
}

fn real(raw: Raw) -> f64 {
    match raw {
        Raw::Real(value) => value,
        other => panic!("{other:?}"),
    }
}

/// IEEE 11073-20601 SFLOAT. 114, 36.4, -1 and 500 are the examples of the Bluetooth SIG's
/// "Personal Health Devices Transcoding" white paper, read as two implementations of it quote them
/// (edition not seen); the others follow from the definition: 12-bit mantissa, 4-bit exponent, both two's complement, base 10.
#[test]
fn sfloat_vectors() {
    for (bytes, value) in [
        ([0x72, 0x00], 114.0),
        ([0x6C, 0xF1], 36.4),
        ([0xFF, 0x0F], -1.0),
        ([0x05, 0x20], 500.0),
        ([0x0A, 0xF0], 1.0),
        ([0xDF, 0xF5], 150.3),
        ([0x0A, 0xE4], 10.34),
        ([0xFB, 0xFF], -0.5),
    ] {
        assert_eq!(
            real(read(NumberType::Sfloat, &bytes)),
            value,
            "{bytes:02x?}"
        );
    }
}

/// IEEE 11073-20601 FLOAT: 24-bit mantissa, 8-bit exponent; 36.4 and 34.79 are examples
/// of the Health Thermometer's Temperature Measurement, from the same white paper (edition not seen).
#[test]
fn float_vectors() {
    for (bytes, value) in [
        ([0x6C, 0x01, 0x00, 0xFF], 36.4),
        ([0x97, 0x0D, 0x00, 0xFE], 34.79),
        ([0xFF, 0xFF, 0xFF, 0x00], -1.0),
        ([0xDF, 0x05, 0x00, 0xFF], 150.3),
        ([0xE6, 0xC7, 0x0F, 0x00], 1_034_214.0),
        ([0x8E, 0xFE, 0xFF, 0xFF], -37.0),
        ([0x72, 0x01, 0x00, 0xFF], 37.0),
    ] {
        assert_eq!(real(read(NumberType::Float, &bytes)), value, "{bytes:02x?}");
    }
}

/// The five special values of IEEE 11073-20601; they are told by the whole word, so the same
/// mantissa with another exponent is an ordinary number.
#[test]
fn special_values() {
    let words = [
        (0x07FE_u16, 0x007F_FFFE_u32, Raw::PlusInfinity),
        (0x07FF, 0x007F_FFFF, Raw::NotANumber),
        (0x0800, 0x0080_0000, Raw::NotAtThisResolution),
        (0x0801, 0x0080_0001, Raw::Reserved),
        (0x0802, 0x0080_0002, Raw::MinusInfinity),
    ];
    for (short, long, meaning) in words {
        assert_eq!(read(NumberType::Sfloat, &short.to_le_bytes()), meaning);
        assert_eq!(read(NumberType::Float, &long.to_le_bytes()), meaning);
    }
    assert_eq!(
        real(read(NumberType::Sfloat, &0x17FF_u16.to_le_bytes())),
        20_470.0
    );
    assert_eq!(
        real(read(NumberType::Sfloat, &0x07FD_u16.to_le_bytes())),
        2_045.0
    );
    assert_eq!(
        real(read(NumberType::Sfloat, &0x0803_u16.to_le_bytes())),
        -2_045.0
    );
}

/// Negative controls: words that the tests of the Python library bluetooth-sig-python have as 1.0,
/// -1.0 and 37.0, with the exponent in the wrong place. By the standard they are something else
/// entirely.
#[test]
fn wrong_vectors_in_circulation_are_not_believed() {
    assert_eq!(
        real(read(NumberType::Sfloat, &0x700A_u16.to_le_bytes())),
        1e8
    );
    assert_eq!(
        real(read(NumberType::Sfloat, &0x7FF6_u16.to_le_bytes())),
        -1e8
    );
    assert_eq!(
        real(read(NumberType::Float, &0x7F00_0172_u32.to_le_bytes())),
        3.70e129
    );
}

/// IEEE 754 binary32: 150.0 is 0x43160000.
#[test]
fn single_precision() {
    assert_eq!(
        real(read(NumberType::F32, &[0x00, 0x00, 0x16, 0x43])),
        150.0
    );
    assert_eq!(
        read(NumberType::F32, &f32::NAN.to_le_bytes()),
        Raw::NotANumber
    );
    assert_eq!(
        read(NumberType::F32, &f32::INFINITY.to_le_bytes()),
        Raw::PlusInfinity
    );
    assert_eq!(
        read(NumberType::F32, &f32::NEG_INFINITY.to_le_bytes()),
        Raw::MinusInfinity
    );
}

/// Values under the Presentation Format descriptor `0E FF A5 27 01 00 00` (sint16, exponent -1,
/// psi): DC 05 is 150.0 psi, F1 FF is -1.5 psi.
#[test]
fn integers_in_both_byte_orders() {
    use NumberType::{I8, I16, I24, I32, U8, U16, U24, U32};
    assert_eq!(read(I16, &[0xDC, 0x05]), Raw::Integer(1500));
    assert_eq!(read(I16, &[0xF1, 0xFF]), Raw::Integer(-15));
    let bytes = [0x80, 0x01, 0x02, 0xFF];
    let little = [
        (U8, 0x80),
        (I8, -128),
        (U16, 0x0180),
        (I16, 0x0180),
        (U24, 0x02_0180),
    ];
    for (kind, value) in little {
        assert_eq!(read(kind, &bytes), Raw::Integer(value));
    }
    assert_eq!(read(U32, &bytes), Raw::Integer(0xFF02_0180));
    assert_eq!(read(I32, &bytes), Raw::Integer(0xFF02_0180 - (1 << 32)));
    let big = |kind: NumberType| kind.read(&bytes, ByteOrder::Big).unwrap();
    assert_eq!(big(U24), Raw::Integer(0x80_0102));
    assert_eq!(big(I24), Raw::Integer(0x80_0102 - (1 << 24)));
    assert_eq!(U24.read(&[1, 2], ByteOrder::Little), None);
}

/// Every word of the short types, and a stride through the long ones, reads and writes back to
/// the same value.
#[test]
fn every_word_reads_back() {
    let kinds = [
        NumberType::U8,
        NumberType::I8,
        NumberType::U16,
        NumberType::I16,
        NumberType::U24,
        NumberType::I24,
        NumberType::U32,
        NumberType::I32,
        NumberType::F32,
        NumberType::Sfloat,
        NumberType::Float,
    ];
    for kind in kinds {
        let step = if kind.size() > 2 { 65_521 } else { 1 };
        for word in (0..1_u64 << (8 * kind.size())).step_by(step) {
            for order in [ByteOrder::Little, ByteOrder::Big] {
                let bytes = (word as u32).to_le_bytes();
                let raw = kind.read(&bytes, order).unwrap();
                let mut written = Vec::new();
                kind.write(raw, order, &mut written);
                let again = kind.read(&written, order).unwrap();
                let far =
                    matches!(raw, Raw::Real(value) if value.abs() > 1e25 || value.abs() < 1e-12);
                assert!(
                    raw == again || (kind == NumberType::Float && far),
                    "{raw:?} {again:?}"
                );
            }
        }
    }
}
