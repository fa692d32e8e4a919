//! A shorter way for the lines that a recording consists of: packets. It writes and reads exactly
//! what the general way does, and leaves to it whatever looks unusual.

use super::format::{Packet, Record};
use super::limits;
use std::io::Write;

const TYPE: &[u8] = b"{\"type\":\"packet\",\"t_us\":";
const FROM: &[u8] = b",\"from\":\"";
const HEX: &[u8] = b"\",\"hex\":\"";
const END: &[u8] = b"\"}";
pub(super) const DIGITS: &[u8; 16] = b"0123456789abcdef";
/// What a byte is worth as a hexadecimal digit; [`NO_DIGIT`] where it is none.
const WORTH: [u8; 256] = worth();
const NO_DIGIT: u8 = 0xff;

const fn worth() -> [u8; 256] {
    let mut table = [NO_DIGIT; 256];
    let mut value = 0;
    while value < 16 {
        let digit = DIGITS[value];
        table[digit as usize] = value as u8;
        table[digit.to_ascii_uppercase() as usize] = value as u8;
        value += 1;
    }
    table
}

/// Whether a name needs no escaping in JSON.
fn is_plain(name: &[u8]) -> bool {
    name.iter()
        .all(|byte| matches!(byte, b' '..=b'~') && !matches!(byte, b'"' | b'\\'))
}

/// Appends the packet as JSON.
pub(super) fn write(packet: &Packet, line: &mut Vec<u8>) -> Result<(), serde_json::Error> {
    if !is_plain(packet.from.as_bytes()) {
        return serde_json::to_writer(line, &Record::Packet(packet.clone()));
    }
    line.extend_from_slice(TYPE);
    // Writing to a vector cannot fail.
    let _ = write!(line, "{}", packet.t_us);
    line.extend_from_slice(FROM);
    line.extend_from_slice(packet.from.as_bytes());
    line.extend_from_slice(HEX);
    for byte in &packet.hex {
        line.push(DIGITS[usize::from(byte >> 4)]);
        line.push(DIGITS[usize::from(byte & 15)]);
    }
    line.extend_from_slice(END);
    Ok(())
}

/// Reads a packet from JSON that lacks its closing brace; none if it is anything else, or a packet
/// written in another way.
pub(super) fn read(json: &[u8]) -> Option<Packet> {
    let rest = json.strip_prefix(TYPE)?;
    let digits = rest.iter().take_while(|byte| byte.is_ascii_digit()).count();
    let (number, rest) = rest.split_at(digits);
    if number.len() > 1 && number[0] == b'0' {
        return None;
    }
    let t_us = decimal(number)?;
    let rest = rest.strip_prefix(FROM)?;
    let quote = rest.iter().position(|byte| *byte == b'"')?;
    let (from, rest) = rest.split_at(quote);
    let digits = rest.strip_prefix(HEX)?.strip_suffix(b"\"")?;
    if !is_plain(from) || from.len() > limits::NAME || digits.len() > 2 * limits::PAYLOAD {
        return None;
    }
    Some(Packet {
        t_us,
        from: String::from_utf8(from.to_vec()).ok()?,
        hex: bytes(digits)?,
    })
}

/// A number of so many decimal digits is never too large.
const SURE_TO_FIT: usize = 19;

/// The number that decimal digits stand for; none of none, or of one that is too large.
pub(super) fn decimal(digits: &[u8]) -> Option<u64> {
    if digits.is_empty() || digits.len() > SURE_TO_FIT {
        return std::str::from_utf8(digits).ok()?.parse().ok();
    }
    let add = |number, digit: &u8| number * 10 + u64::from(digit - b'0');
    digits
        .iter()
        .all(u8::is_ascii_digit)
        .then(|| digits.iter().fold(0, add))
}

/// The bytes that pairs of digits stand for.
fn bytes(digits: &[u8]) -> Option<Vec<u8>> {
    let (pairs, rest) = digits.as_chunks::<2>();
    let mut seen = 0;
    let bytes = pairs.iter().map(|[high, low]| {
        let (high, low) = (WORTH[usize::from(*high)], WORTH[usize::from(*low)]);
        seen |= high | low;
        high << 4 | low
    });
    let bytes = bytes.collect();
    // All digits leave the upper half of the byte clear.
    (rest.is_empty() && seen < 16).then_some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Bytes, result and refusals are those of the general way.
        #[test]
        fn the_short_way_is_the_general_way(
            t_us in any::<u64>(),
            from in prop_oneof!["[a-z ]{0,20}", "\\PC{0,8}", any::<String>()],
            hex in proptest::collection::vec(any::<u8>(), 0..80),
        ) {
            let packet = Packet { t_us, from, hex };
            let general = serde_json::to_vec(&Record::Packet(packet.clone())).unwrap();
            let mut short = Vec::new();
            write(&packet, &mut short).unwrap();
            prop_assert_eq!(&short, &general);
            if let Some(read) = general.strip_suffix(b"}").and_then(read) {
                prop_assert_eq!(read, packet);
            } else {
                prop_assert!(!is_plain(packet.from.as_bytes()));
            }
        }

        /// A line changed in any way reads to the same in both, or is left to the general one.
        #[test]
        fn what_the_short_way_takes_the_general_takes_too(
            at in 0..80_usize,
            byte in prop_oneof![any::<u8>(), Just(b'"'), Just(b'0'), Just(b'A'), Just(b'\\')],
            insert in any::<bool>(),
        ) {
            let mut line = br#"{"type":"packet","t_us":1024,"from":"stream","hex":"00ffa1"}"#.to_vec();
            let at = at % line.len();
            if insert {
                line.insert(at, byte);
            } else {
                line[at] = byte;
            }
            if let Some(packet) = line.strip_suffix(b"}").and_then(read) {
                let general: Record = serde_json::from_slice(&line).unwrap();
                prop_assert_eq!(general, Record::Packet(packet));
            }
        }
    }
}
