//! Checks over bytes: cyclic redundancy check, sum, exclusive-or, by the parameters that public
//! catalogues give (width, poly, init, refin, refout, xorout).

use super::spec::{Check, CheckKind};
use crate::protocol::number::ByteOrder;

impl Check {
    /// Its length in bytes.
    pub(in crate::protocol) const fn size(&self) -> usize {
        self.width as usize / 8
    }

    /// Every bit of its width.
    pub(in crate::protocol) const fn mask(&self) -> u32 {
        u32::MAX >> (32 - self.width)
    }

    /// What it gives over these bytes.
    pub(in crate::protocol) fn of(&self, bytes: &[u8]) -> u32 {
        let found = match self.kind {
            CheckKind::Sum => bytes
                .iter()
                .fold(self.init, |sum, byte| sum.wrapping_add(u32::from(*byte))),
            CheckKind::Xor => bytes
                .iter()
                .fold(self.init, |sum, byte| sum ^ u32::from(*byte)),
            CheckKind::Crc => self.remainder(bytes),
        };
        (found ^ self.xorout) & self.mask()
    }

    /// The remainder, bit by bit: a packet is short, so a table would save nothing.
    fn remainder(&self, bytes: &[u8]) -> u32 {
        let (poly, top) = (self.poly.unwrap_or(0), 1 << (self.width - 1));
        let mut register = self.init;
        for &byte in bytes {
            let byte = if self.refin {
                byte.reverse_bits()
            } else {
                byte
            };
            register ^= u32::from(byte) << (self.width - 8);
            for _ in 0..8 {
                let out = register & top != 0;
                register = register << 1 ^ if out { poly } else { 0 };
            }
        }
        let register = register & self.mask();
        if self.refout {
            register.reverse_bits() >> (32 - self.width)
        } else {
            register
        }
    }

    /// What it gives over a message that ends right before the check; none if there is nothing
    /// that it could cover.
    pub(in crate::protocol) fn over(&self, before: &[u8]) -> Option<u32> {
        let end = before.len().checked_sub(self.leave_out)?;
        before.get(self.from..end).map(|bytes| self.of(bytes))
    }

    /// Its byte order in a stream of this one.
    pub(in crate::protocol) fn order(&self, stream: ByteOrder) -> ByteOrder {
        self.byte_order.unwrap_or(stream)
    }

    /// Its bytes in a frame.
    pub(in crate::protocol) fn bytes(&self, value: u32, stream: ByteOrder) -> Vec<u8> {
        let size = self.size();
        match self.order(stream) {
            ByteOrder::Little => value.to_le_bytes()[..size].to_vec(),
            ByteOrder::Big => value.to_be_bytes()[4 - size..].to_vec(),
        }
    }

    /// As it is written in hexadecimal digits.
    pub(in crate::protocol) fn digits(&self, value: u32) -> String {
        let width = self.size() * 2;
        format!("{value:0width$X}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(serde::Deserialize)]
    struct Fixture {
        texts: Vec<String>,
        crc: Vec<serde_json::Map<String, serde_json::Value>>,
        plain: Vec<serde_json::Map<String, serde_json::Value>>,
    }

    /// Every check that a general-purpose library of them knows (crccheck 1.3.1, after the public
    /// catalogue of parametrised CRC algorithms): fixtures/protocol/make.py.
    #[test]
    fn checks_are_those_of_the_catalogue() {
        let text = include_str!("../../../fixtures/protocol/checks.json");
        let fixture: Fixture = serde_json::from_str(text).expect("the fixture");
        let texts: Vec<Vec<u8>> = fixture
            .texts
            .iter()
            .map(|t| hex::decode(t).expect("hex"))
            .collect();
        let mut held = 0;
        for mut one in fixture.crc.into_iter().chain(fixture.plain) {
            let values = one.remove("values").expect("values");
            one.remove("name");
            one.entry("kind").or_insert("crc".into());
            let stated = one.get("check").and_then(serde_json::Value::as_u64);
            let check: Check = serde_json::from_value(one.into()).expect("a check");
            if let Some(stated) = stated {
                assert_eq!(u64::from(check.of(b"123456789")), stated, "{check:?}");
            }
            let found: Vec<u32> = texts.iter().map(|text| check.of(text)).collect();
            assert_eq!(serde_json::json!(found), values, "{check:?}");
            held += 1;
        }
        assert!(held > 60, "{held}");
    }

    /// The two's complement of a sum is one of the checks that the parameters can say: the bytes
    /// and it then sum to zero.
    #[test]
    fn a_sum_can_be_turned_into_its_complement() {
        let text = "kind = 'sum'\nwidth = 8\ninit = 0xFF\nxorout = 0xFF";
        let check: Check = toml::from_str(text).expect("a check");
        for bytes in [&b"123456789"[..], &[], &[0xFF; 3]] {
            let sum = bytes.iter().map(|byte| u32::from(*byte)).sum::<u32>();
            assert_eq!((sum + check.of(bytes)) % 256, 0);
        }
    }

    #[test]
    fn it_covers_what_it_says() {
        let text = "kind = 'xor'\nwidth = 8\nfrom = 1\nleave_out = 1";
        let check: Check = toml::from_str(text).expect("a check");
        assert_eq!(check.over(b"$ab*"), Some(u32::from(b'a' ^ b'b')));
        assert_eq!(check.over(b"$*"), Some(0));
        assert_eq!(check.over(b"$"), None);
        assert_eq!(check.over(b""), None);
    }
}
