//! A shorter way for the lines that a recording consists of: packets. It writes and reads exactly
//! what the general way does, and leaves to it whatever looks unusual.

use super::format::{Packet, Record};
use super::limits;
use std::io::Write;

const TYPE: &[u8] = b"{\"type\":\"packet\",\"t_us\":";
const FROM: &[u8] = b",\"from\":\"";
const HEX: &[u8] = b"\",\"hex\":\"";
const END: &[u8] = b"\"}";
const DIGITS: &[u8; 16] = b"0123456789abcdef";

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

/// Reads a packet; none if the line is anything else, or a packet written in another way.
pub(super) fn read(json: &[u8]) -> Option<Packet> {
    let rest = json.strip_prefix(TYPE)?;
    let digits = rest.iter().take_while(|byte| byte.is_ascii_digit()).count();
    let (number, rest) = rest.split_at(digits);
    if number.len() > 1 && number[0] == b'0' {
        return None;
    }
    let t_us = std::str::from_utf8(number).ok()?.parse().ok()?;
    let rest = rest.strip_prefix(FROM)?;
    let quote = rest.iter().position(|byte| *byte == b'"')?;
    let (from, rest) = rest.split_at(quote);
    let digits = rest.strip_prefix(HEX)?.strip_suffix(END)?;
    if !is_plain(from) || from.len() > limits::NAME || digits.len() > 2 * limits::PAYLOAD {
        return None;
    }
    let mut payload = vec![0; digits.len() / 2];
    hex::decode_to_slice(digits, &mut payload).ok()?;
    Some(Packet {
        t_us,
        from: String::from_utf8(from.to_vec()).ok()?,
        hex: payload,
    })
}
