//! The ordinary packet, quickly: integers, one a sample, none of which says anything special.
//! Whatever else a packet may hold is left to the decoder's general way.

use super::clock::Span;
use super::layout::Layout;
use super::limits;
use super::number::word;
use super::sample::RawSample;
use super::slot::Slot;
use crate::units::{Pressure, Temperature};

/// Reads blocks of samples by what the protocol file says, worked out once.
#[derive(Clone, Debug)]
pub(super) struct PlainBlock {
    slot: Slot,
    /// Raw numbers between these two, and neither of them, are ordinary values.
    between: (i64, i64),
    /// From here on a pressure is at the end of the range.
    range_high: Pressure,
    /// A word shifted up and down again by so many bits is its number, sign and all.
    sign: u32,
}

impl PlainBlock {
    /// None where samples are no integers or hold anything else.
    pub(super) fn new(layout: &Layout, range_high: Option<Pressure>) -> Option<Self> {
        let slot = layout.pressure.clone();
        if slot.at > 0 || slot.kind.size() != layout.stride {
            return None;
        }
        Some(Self {
            between: slot.ordinary()?,
            range_high: range_high.unwrap_or(Pressure::from_pa(f64::INFINITY)),
            sign: if slot.kind.is_unsigned() {
                0
            } else {
                64 - 8 * slot.kind.size() as u32
            },
            slot,
        })
    }

    /// Appends the samples of a block. False, and nothing is appended, if any of them is out of
    /// the ordinary: then the block is to be read in the general way.
    pub(super) fn read(
        &self,
        block: &[u8],
        span: Span,
        temperature: Option<Temperature>,
        out: &mut Vec<RawSample>,
    ) -> bool {
        let before = out.len();
        let codes = match self.slot.kind.size() {
            1 => self.append::<1>(block, span, temperature, out),
            2 => self.append::<2>(block, span, temperature, out),
            3 => self.append::<3>(block, span, temperature, out),
            _ => self.append::<4>(block, span, temperature, out),
        };
        let ordinary = self.is_ordinary(codes.0) && self.is_ordinary(codes.1);
        if !ordinary {
            out.truncate(before);
        }
        ordinary
    }

    /// Gives the lowest and the highest raw number.
    fn append<const SIZE: usize>(
        &self,
        block: &[u8],
        span: Span,
        temperature: Option<Temperature>,
        out: &mut Vec<RawSample>,
    ) -> (i64, i64) {
        let (order, sign, scale) = (self.slot.order, self.sign, self.slot.to_pressure());
        let (mut lowest, mut highest) = (i64::MAX, i64::MIN);
        let words = block.as_chunks::<SIZE>().0.iter().enumerate();
        out.extend(words.map(|(index, bytes)| {
            let code = (i64::from(word(bytes, order)) << sign) >> sign;
            lowest = lowest.min(code);
            highest = highest.max(code);
            RawSample {
                time: span.first + span.step * index as f64,
                pressure: scale.pressure(code as f64),
                temperature,
                out_of_range: false,
                gap_before: false,
            }
        }));
        (lowest, highest)
    }

    /// Whether a raw number is nothing but a pressure within the range. Pressure rises or falls
    /// with the number all the way, so what holds of two holds of all between.
    fn is_ordinary(&self, code: i64) -> bool {
        let (low, high) = self.between;
        let pressure = self.slot.to_pressure().pressure(code as f64);
        low < code
            && code < high
            && pressure.pa().abs() <= limits::PRESSURE_PA
            && pressure < self.range_high
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Decoder, ProtocolFile, STREAM};
    use crate::units::Time;
    use proptest::prelude::*;

    const REFERENCE: &str = include_str!("../../protocol/reference-sensor.toml");

    /// The reference sensor with other numbers: either order, every size, either sign, a falling
    /// scale, another unit, special codes anywhere.
    fn files() -> Vec<ProtocolFile> {
        let kinds = [
            ("i24", "no_value = -8388607"),
            ("i24", "no_value = 3"),
            ("u24", "over_range = 16777215"),
            ("i16", "under_range = -32768"),
            ("u16", "no_value = 0"),
            ("i8", ""),
            ("u8", ""),
            ("i32", "over_range = 2147483647"),
            ("u32", "no_value = 4294967295"),
        ];
        let scales = [
            "scale = 1\nunit = \"Pa\"",
            "scale = -0.37\noffset = 12.5\nunit = \"psi\"",
        ];
        let (head, rest) = REFERENCE.split_once("type = \"i24\"").unwrap();
        let (_, rest) = rest.split_once("[[status]]").unwrap();
        let texts = kinds.iter().flat_map(|(kind, codes)| {
            scales.iter().flat_map(move |scale| {
                let text = format!("{head}type = \"{kind}\"\n{scale}\n{codes}\n\n[[status]]{rest}");
                let big = text.replace("byte_order = \"little\"\nmax", "byte_order = \"big\"\nmax");
                [text, big]
            })
        });
        texts
            .map(|text| ProtocolFile::parse(&text).unwrap())
            .collect()
    }

    proptest! {
        /// Samples and counts are those of the general way, bit for bit.
        #[test]
        fn the_quick_way_is_the_general_way(
            packets in proptest::collection::vec(
                (0..3_u8, 0..3_u32, 0..3_u32, proptest::collection::vec(
                    prop_oneof![5 => 0..=40_u8, 1 => Just(0xff), 1 => Just(0x80), 1 => any::<u8>()],
                    0..40,
                )),
                1..20,
            ),
        ) {
            for file in files() {
                let (mut quick, mut general) = (Decoder::new(&file), Decoder::new(&file));
                general.read_generally();
                let (mut ours, mut theirs) = (Vec::new(), Vec::new());
                let (mut sequence, mut tick) = (0_u16, 0_u32);
                for (ahead, ticks, interval, samples) in &packets {
                    sequence += u16::from(*ahead);
                    tick += 1000 * ticks;
                    let little = file.text().contains("byte_order = \"little\"\nmax");
                    let interval = 500 * interval;
                    let mut payload = Vec::new();
                    if little {
                        payload.extend(sequence.to_le_bytes());
                        payload.extend(tick.to_le_bytes());
                        payload.extend(interval.to_le_bytes());
                    } else {
                        payload.extend(sequence.to_be_bytes());
                        payload.extend(tick.to_be_bytes());
                        payload.extend(interval.to_be_bytes());
                    }
                    payload.extend([0, 80, 8, 8]);
                    payload.extend(samples);
                    let arrived = Time::from_us(u64::from(tick));
                    quick.accept(STREAM, arrived, &payload, &mut ours);
                    general.accept(STREAM, arrived, &payload, &mut theirs);
                }
                prop_assert_eq!(quick.counts(), general.counts());
                prop_assert_eq!(ours.len(), theirs.len());
                for (our, their) in ours.iter().zip(&theirs) {
                    prop_assert_eq!(our, their);
                    prop_assert_eq!(our.pressure.pa().to_bits(), their.pressure.pa().to_bits());
                    prop_assert_eq!(our.time.s().to_bits(), their.time.s().to_bits());
                }
            }
        }
    }
}
