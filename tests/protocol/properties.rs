//! Whatever comes, nothing panics; what was packed comes out again.

use super::shipped::{ENVIRONMENTAL, REFERENCE, reference};
use needlerest::protocol::{Decoder, Encoder, ProtocolFile, RawSample, SensorSample, explain};
use needlerest::units::{Pressure, Temperature, Time};
use proptest::prelude::*;

/// Layouts of many kinds, all made from the two files that ship.
fn files() -> Vec<ProtocolFile> {
    let big = REFERENCE.replace("byte_order = \"little\"", "byte_order = \"big\"");
    let narrow = REFERENCE.replace("type = \"u16\"", "type = \"u8\"");
    let fixed = REFERENCE.replace("at_most = 10", "count = 4");
    let counted = REFERENCE.replacen(
        "[[stream.field]]",
        "[[stream.field]]\nrole = \"count\"\ntype = \"u8\"\n[[stream.field]]",
        1,
    );
    let last = REFERENCE.replace("tick_of = \"first\"", "tick_of = \"last\"");
    let turns = REFERENCE.replace("tick_us = 1\n", "tick_us = 1\nlast_tick = 9999999\n");
    let mut texts = vec![
        REFERENCE.to_owned(),
        big,
        narrow,
        fixed,
        counted,
        last,
        turns,
    ];
    for kind in ["sfloat", "float", "f32", "i16", "u8", "i32"] {
        texts.push(ENVIRONMENTAL.replace("type = \"u32\"", &format!("type = \"{kind}\"")));
    }
    texts.push(ENVIRONMENTAL.to_owned());
    texts
        .iter()
        .map(|text| ProtocolFile::parse(text).unwrap())
        .collect()
}

fn check(samples: &[RawSample]) {
    for sample in samples {
        assert!(sample.pressure.is_finite() && sample.time.is_finite());
    }
    assert!(samples.windows(2).all(|pair| pair[0].time < pair[1].time));
}

/// What happens to a decoder.
#[derive(Clone, Debug)]
enum Happening {
    Payload(String, Vec<u8>),
    LinkLost,
    Flush,
}

fn happening() -> impl Strategy<Value = Happening> {
    let from = prop_oneof![4 => Just("stream"), 1 => Just("battery"), 1 => Just("temperature"), 1 => Just("x")];
    let bytes = prop_oneof![
        proptest::collection::vec(any::<u8>(), 0..60),
        // Small numbers: sequences that hang together, ticks that go back and forth.
        proptest::collection::vec(0..4_u8, 14..50),
        proptest::collection::vec(
            prop_oneof![Just(0xFF_u8), Just(0x7F), Just(0x80), Just(0)],
            0..600
        ),
    ];
    prop_oneof![
        20 => (from, bytes).prop_map(|(from, bytes)| Happening::Payload(from.to_owned(), bytes)),
        1 => Just(Happening::LinkLost),
        1 => Just(Happening::Flush),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_payload_panics(
        happenings in proptest::collection::vec((happening(), -1e3..1e6_f64), 1..60),
        which in 0..14_usize,
    ) {
        let file = &files()[which];
        let mut decoder = Decoder::new(file);
        let mut out = Vec::new();
        let mut sent = 0;
        for (happening, arrived) in happenings {
            match happening {
                Happening::Payload(from, bytes) => {
                    sent += u64::from(from == "stream");
                    let shown = explain(file, &bytes);
                    prop_assert!(shown.usable || !shown.notes.is_empty());
                    decoder.accept(&from, Time::from_s(arrived), &bytes, &mut out);
                }
                Happening::LinkLost => decoder.link_lost(&mut out),
                Happening::Flush => decoder.flush(&mut out),
            }
        }
        decoder.flush(&mut out);
        check(&out);
        prop_assert_eq!(decoder.counts().received, sent);
        prop_assert_eq!(decoder.counts().samples, out.len() as u64);
    }

    #[test]
    fn what_is_packed_comes_out(
        pascals in proptest::collection::vec(-99_000..2_499_000_i32, 1..120),
        start in any::<u32>(),
        per_packet in 1..12_usize,
        status in 0..32_u32,
        celsius in -400..1250_i32,
        which in 0..7_usize,
    ) {
        let file = &files()[which];
        let mut encoder = Encoder::new(file).with_samples_per_packet(per_packet);
        let mut decoder = Decoder::new(file);
        let mut out = Vec::new();
        let celsius = f64::from(celsius) / 10.0;
        let mut packets = Vec::new();
        for (i, pascal) in pascals.iter().enumerate() {
            packets.extend(encoder.push(&SensorSample {
                tick: u64::from(start) + i as u64 * encoder.interval(),
                pressure: Pressure::from_pa(f64::from(*pascal)),
                temperature: Some(Temperature::from_celsius(celsius)),
                battery: Some(50.0),
                status,
            }));
        }
        packets.extend(encoder.finish());
        for (i, packet) in packets.iter().enumerate() {
            decoder.decode(Time::from_s(0.001 * i as f64), packet, &mut out);
        }
        // Of a layout with a fixed number of samples, the last packet may not be full.
        let sent = if which == 3 { pascals.len() / 4 * 4 } else { pascals.len() };
        prop_assert_eq!(out.len(), sent);
        for (i, (sample, pascal)) in out.iter().zip(&pascals).enumerate() {
            prop_assert_eq!(sample.pressure.pa(), f64::from(*pascal));
            let time = (sample.time - out[0].time).s();
            prop_assert!((time - 0.002 * i as f64).abs() < 1e-9, "{} {}", i, time);
            prop_assert!((sample.temperature.unwrap().celsius() - celsius).abs() < 1e-9);
            prop_assert!(!sample.gap_before && !sample.out_of_range);
        }
        if sent > 0 {
            prop_assert_eq!(decoder.status(), Some(status));
            prop_assert_eq!(decoder.battery(), Some(50.0));
        }
        let counts = decoder.counts();
        prop_assert_eq!((counts.lost, counts.short, counts.long, counts.restarts), (0, 0, 0, 0));
    }

    /// However packets are dropped, repeated and swapped with a neighbour: every sample that comes
    /// out is one that went in, at its own time, in order; and the books balance.
    #[test]
    fn disorder_never_changes_a_sample(
        fates in proptest::collection::vec(0..20_u8, 20..200),
    ) {
        let file = reference();
        let mut encoder = Encoder::new(&file).with_samples_per_packet(2);
        let mut sent: Vec<Vec<u8>> = Vec::new();
        for i in 0..2 * fates.len() as u64 {
            sent.extend(encoder.push(&SensorSample {
                tick: i * 2_000,
                pressure: Pressure::from_pa(i as f64),
                temperature: None,
                battery: None,
                status: 0,
            }));
        }
        let mut arriving: Vec<&[u8]> = Vec::new();
        for (i, (packet, fate)) in sent.iter().zip(&fates).enumerate() {
            match fate {
                0 if i > 0 => {}
                1 => arriving.extend([packet.as_slice(), packet]),
                2 if i > 1 => arriving.insert(arriving.len() - 1, packet),
                _ => arriving.push(packet),
            }
        }
        let mut decoder = Decoder::new(&file);
        let mut out = Vec::new();
        for (i, packet) in arriving.iter().enumerate() {
            decoder.decode(Time::from_s(0.004 * i as f64), packet, &mut out);
        }
        decoder.flush(&mut out);
        check(&out);
        let mut expected = None;
        for sample in &out {
            let number = (sample.time.s() / 0.002).round();
            let first = *expected.get_or_insert(number - sample.pressure.pa());
            prop_assert_eq!(number - sample.pressure.pa(), first);
        }
        let counts = decoder.counts();
        let used = counts.samples / 2;
        prop_assert_eq!(used + counts.repeated, counts.received);
        let last = out.last().unwrap().pressure.pa() as u64 / 2;
        let first = out[0].pressure.pa() as u64 / 2;
        prop_assert_eq!(used + counts.lost, last - first + 1);
    }
}
