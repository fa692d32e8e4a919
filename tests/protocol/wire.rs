//! Version 2: lines, frames, answers and tables, held against bytes that general-purpose libraries
//! packed (fixtures/protocol/make.py), however they are cut into packets.

use needlerest::protocol::{
    Decoder, Encoder, PacketCounts, ProtocolFile, RawSample, SensorSample, explain,
};
use needlerest::units::{Pressure, Temperature, Time};
use proptest::prelude::*;

pub const TEXT: &str = include_str!("../../protocol/examples/text-lines.toml");
pub const FRAMES: &str = include_str!("../../protocol/examples/frames.toml");
pub const ASKED: &str = include_str!("../../protocol/examples/asked.toml");
pub const TABLE: &str = include_str!("../../protocol/examples/table.toml");

#[derive(serde::Deserialize)]
struct Sent {
    file: String,
    messages: Vec<String>,
    pressures_pa: Vec<f64>,
    celsius: Option<Vec<f64>>,
    times_s: Option<Vec<f64>>,
    #[serde(default)]
    of_another_kind: Vec<String>,
}

impl Sent {
    fn of(file: &str) -> Self {
        let all: Vec<Self> =
            serde_json::from_str(include_str!("../../fixtures/protocol/messages.json")).unwrap();
        all.into_iter().find(|sent| sent.file == file).unwrap()
    }

    fn messages(&self) -> Vec<Vec<u8>> {
        self.messages
            .iter()
            .map(|m| hex::decode(m).unwrap())
            .collect()
    }
}

fn parse(text: &str) -> ProtocolFile {
    ProtocolFile::parse(text).unwrap()
}

/// All packets come at once, so that nothing depends on when.
fn decode<'a>(
    file: &ProtocolFile,
    packets: impl IntoIterator<Item = &'a [u8]>,
) -> (Vec<RawSample>, PacketCounts) {
    let (mut decoder, mut out) = (Decoder::new(file), Vec::new());
    for packet in packets {
        decoder.decode(Time::from_s(1.0), packet, &mut out);
    }
    decoder.flush(&mut out);
    (out, decoder.counts())
}

fn is_near(found: &[RawSample], expected: &[f64]) {
    assert_eq!(found.len(), expected.len());
    for (sample, expected) in found.iter().zip(expected) {
        // Decimal numbers and their products round; nothing here comes near a pascal.
        let off = (sample.pressure.pa() - expected).abs();
        assert!(
            off <= 1e-9 * expected.abs().max(1.0),
            "{sample:?} {expected}"
        );
    }
}

#[test]
fn every_example_reads_as_the_libraries_packed_it() {
    for (name, text) in [
        ("text-lines", TEXT),
        ("frames", FRAMES),
        ("asked", ASKED),
        ("table", TABLE),
    ] {
        let (file, sent) = (parse(text), Sent::of(name));
        let messages = sent.messages();
        let (samples, counts) = decode(&file, messages.iter().map(Vec::as_slice));
        let pressures: Vec<RawSample> = match name {
            // In the fixture a wide number stands for itself, in the file for "out of range".
            "frames" => samples
                .iter()
                .filter(|s| !s.out_of_range)
                .copied()
                .collect(),
            _ => samples.clone(),
        };
        let high = file.range_high().unwrap().pa();
        let within = |pa: &f64| name != "frames" || *pa < high;
        let expected: Vec<f64> = sent.pressures_pa.iter().copied().filter(within).collect();
        is_near(&pressures, &expected);
        if let Some(celsius) = &sent.celsius {
            let found: Vec<f64> = samples
                .iter()
                .map(|s| s.temperature.unwrap().celsius())
                .collect();
            assert!(
                found
                    .iter()
                    .zip(celsius)
                    .all(|(ours, theirs)| (ours - theirs).abs() < 1e-9)
            );
        }
        if let Some(times) = &sent.times_s {
            let found: Vec<f64> = samples.iter().map(|s| s.time.s()).collect();
            assert_eq!(found.len(), times.len());
            assert!(
                found
                    .iter()
                    .zip(times)
                    .all(|(ours, theirs)| (ours - theirs).abs() < 1e-9)
            );
        }
        assert_eq!(
            (counts.spoilt, counts.unread, counts.lost),
            (0, 0, 0),
            "{name}"
        );
    }
}

#[test]
fn what_is_of_another_kind_is_passed_over_and_counted() {
    let sent = Sent::of("frames");
    let other = hex::decode(&sent.of_another_kind[0]).unwrap();
    let messages = sent.messages();
    let all = [messages[0].as_slice(), &other, &messages[1]];
    let (samples, counts) = decode(&parse(FRAMES), all);
    assert_eq!((samples.len(), counts.other_kind, counts.spoilt), (4, 1, 0));
    assert!(samples.iter().all(|sample| !sample.gap_before));

    let sent = Sent::of("text-lines");
    let other = hex::decode(&sent.of_another_kind[0]).unwrap();
    let messages = sent.messages();
    let all = [messages[0].as_slice(), &other, &messages[1]];
    let (samples, counts) = decode(&parse(TEXT), all);
    assert_eq!((samples.len(), counts.unread, counts.lost), (2, 1, 0));
    assert!(samples.iter().all(|sample| !sample.gap_before));
}

/// Cuts bytes at these places, taken round the length.
fn cut<'a>(bytes: &'a [u8], at: &[usize]) -> Vec<&'a [u8]> {
    let mut at: Vec<usize> = at.iter().map(|at| at % (bytes.len() + 1)).collect();
    at.extend([0, bytes.len()]);
    at.sort_unstable();
    at.windows(2).map(|pair| &bytes[pair[0]..pair[1]]).collect()
}

#[test]
fn every_single_cut_gives_the_same_samples() {
    for (name, text) in [("text-lines", TEXT), ("frames", FRAMES)] {
        let file = parse(text);
        let bytes = Sent::of(name).messages().concat();
        let (whole, counts) = decode(&file, [bytes.as_slice()]);
        assert!(whole.len() > 4);
        for at in 0..=bytes.len() {
            let (samples, other) = decode(&file, [&bytes[..at], &bytes[at..]]);
            same(&file, &samples, &whole);
            assert_eq!(
                PacketCounts {
                    received: 1,
                    ..other
                },
                counts,
                "{name} cut at {at}"
            );
        }
        let (samples, _) = decode(&file, bytes.chunks(1));
        same(&file, &samples, &whole);
    }
}

/// The same samples; the same times too, where the sensor has a clock. Without one, a sample's time
/// is when its packet came.
fn same(file: &ProtocolFile, ours: &[RawSample], theirs: &[RawSample]) {
    assert_eq!(ours.len(), theirs.len());
    for (ours, theirs) in ours.iter().zip(theirs) {
        let mut ours = *ours;
        if file.tick_us().is_none() {
            ours.time = theirs.time;
        }
        assert_eq!(&ours, theirs);
    }
}

proptest! {
    /// Whatever is put between, and wherever the stream is cut, samples and counts are the same.
    #[test]
    fn every_split_gives_the_same_samples(
        is_text in any::<bool>(),
        noise in proptest::collection::vec(
            proptest::collection::vec(prop_oneof![Just(0xAA), Just(0x55), Just(b'\n'), Just(b'$'), any::<u8>()], 0..12),
            1..6,
        ),
        damage in proptest::option::of((any::<usize>(), 1..=255_u8)),
        at in proptest::collection::vec(any::<usize>(), 0..40),
    ) {
        let (name, text) = if is_text { ("text-lines", TEXT) } else { ("frames", FRAMES) };
        let file = parse(text);
        let mut bytes = Vec::new();
        for (index, message) in Sent::of(name).messages().iter().enumerate() {
            bytes.extend_from_slice(message);
            bytes.extend_from_slice(&noise[index % noise.len()]);
        }
        if let Some((place, flip)) = damage {
            let place = place % bytes.len();
            bytes[place] ^= flip;
        }
        let (whole, counts) = decode(&file, [bytes.as_slice()]);
        let (samples, other) = decode(&file, cut(&bytes, &at));
        same(&file, &samples, &whole);
        prop_assert_eq!(PacketCounts { received: 1, ..other }, counts);
    }

    /// What a virtual sensor sends reads back as it was told, cut into notifications.
    #[test]
    fn what_is_sent_reads_back(kpa in proptest::collection::vec(0.0..2400.0_f64, 1..80)) {
        for text in [TEXT, FRAMES, ASKED, TABLE] {
            let file = parse(text);
            let mut encoder = Encoder::new(&file);
            let (mut decoder, mut out) = (Decoder::new(&file), Vec::new());
            let top = file.range_high().unwrap().kpa() * 0.99;
            let told: Vec<f64> = kpa.iter().map(|kpa| kpa.min(top)).collect();
            let mut send = |message: Option<Vec<u8>>, encoder: &Encoder, now: f64| {
                for packet in message.into_iter().flat_map(|whole| encoder.packets(whole)) {
                    assert!(packet.len() <= file.spec().stream.max_payload);
                    decoder.decode(Time::from_s(now), &packet, &mut out);
                }
            };
            for (number, kpa) in told.iter().enumerate() {
                let message = encoder.push(&SensorSample {
                    tick: number as u64 * encoder.interval(),
                    pressure: Pressure::from_kpa(*kpa),
                    temperature: Some(Temperature::from_celsius(20.0)),
                    battery: None,
                    status: 0,
                });
                send(message, &encoder, 0.05 * number as f64);
            }
            let rest = encoder.finish();
            send(rest, &encoder, 0.05 * told.len() as f64);
            let step = file.resolution().map_or(0.0, Pressure::kpa).max(1e-3);
            prop_assert_eq!(out.len(), told.len());
            for (sample, told) in out.iter().zip(&told) {
                prop_assert!((sample.pressure.kpa() - told).abs() <= step / 2.0 + 1e-3, "{sample:?} {told}");
            }
        }
    }
}

#[test]
fn a_damaged_frame_is_counted_once_and_the_next_is_found() {
    let file = parse(FRAMES);
    let messages = Sent::of("frames").messages();
    for place in 2..messages[2].len() {
        let mut all = messages.clone();
        all[2][place] ^= 0x10;
        let bytes = all.concat();
        let (samples, counts) = decode(&file, bytes.chunks(20));
        // 3, 1 and 3 samples of the frames around it; the 15 in it are lost.
        assert_eq!(samples.len(), 7, "byte {place}");
        assert_eq!((counts.spoilt, counts.lost), (1, 1), "byte {place}");
        assert!(samples[4].gap_before && !samples[3].gap_before);
    }
}

#[test]
fn a_lost_packet_costs_the_messages_that_it_carried() {
    for (name, text) in [("text-lines", TEXT), ("frames", FRAMES)] {
        let file = parse(text);
        let messages = Sent::of(name).messages();
        // Far more than one, so that there is an end to resume at.
        let bytes: Vec<u8> = messages.concat();
        let packets: Vec<&[u8]> = bytes.chunks(20).collect();
        let whole = decode(&file, packets.iter().copied()).0;
        for lost in 1..packets.len() - 2 {
            let rest = packets.iter().enumerate().filter(|(at, _)| *at != lost);
            let (samples, counts) = decode(&file, rest.map(|(_, packet)| *packet));
            assert!(
                counts.spoilt + counts.unread + counts.skipped_bytes > 0,
                "{name} {lost}"
            );
            // Nothing is made up: each sample is one of the whole stream's, in order.
            let mut of_whole = whole.iter();
            for sample in &samples {
                let here = |other: &&RawSample| other.pressure == sample.pressure;
                assert!(
                    of_whole.by_ref().any(|other| here(&other)),
                    "{name} {lost} {sample:?}"
                );
            }
            assert_eq!(
                samples.last().unwrap().pressure,
                whole.last().unwrap().pressure
            );
        }
    }
}

#[test]
fn a_lost_link_gives_up_what_was_begun() {
    for (name, text) in [("text-lines", TEXT), ("frames", FRAMES)] {
        let (file, messages) = (parse(text), Sent::of(name).messages());
        let (mut decoder, mut out) = (Decoder::new(&file), Vec::new());
        decoder.decode(Time::from_s(0.0), &messages[0], &mut out);
        decoder.decode(Time::from_s(0.1), &messages[1][..5], &mut out);
        decoder.link_lost(&mut out);
        let before = out.len();
        decoder.decode(Time::from_s(3.0), &messages[1], &mut out);
        assert!(out.len() > before && out[before].gap_before, "{name}");
        assert_eq!(decoder.counts().skipped_bytes, 5);
    }
}

/// A pattern that begins with a number could take the rest of a line for a whole one.
#[test]
fn a_first_line_without_its_beginning_is_not_taken_for_a_whole_one() {
    let text = TEXT
        .replace(
            "$PR,{sequence},{pressure} kPa,{temperature} C*{check}",
            "{pressure};{temperature};{sequence}",
        )
        .replace(
            "check = { kind = \"xor\", width = 8, from = 1, leave_out = 1 }",
            "",
        )
        .replace("decimal = \"point\"", "decimal = \"comma\"");
    let file = parse(&text);
    let stream = b"13,25;20,5;7\r\n1013,25;20,5;8\r\n-1,5e2; 20,5;9\n";
    let (samples, counts) = decode(&file, stream.chunks(20));
    is_near(&samples, &[1_013_250.0, -150_000.0]);
    assert_eq!(counts.skipped_bytes, 14);
}

#[test]
fn lines_that_come_together_are_spread_over_the_time_before() {
    let (file, messages) = (parse(TEXT), Sent::of("text-lines").messages());
    let (mut decoder, mut out) = (Decoder::new(&file), Vec::new());
    decoder.decode(Time::from_s(1.0), &messages[..2].concat(), &mut out);
    decoder.decode(
        Time::from_s(1.5),
        &[messages[2].clone(), messages[3].clone()].concat(),
        &mut out,
    );
    decoder.decode(Time::from_s(1.52), &messages[5], &mut out);
    let times: Vec<f64> = out.iter().map(|sample| sample.time.s()).collect();
    // 50 samples a second.
    let expected = [0.98, 1.0, 1.48, 1.5, 1.52];
    assert_eq!(times.len(), expected.len());
    assert!(
        times
            .iter()
            .zip(expected)
            .all(|(ours, theirs)| (ours - theirs).abs() < 1e-9),
        "{times:?}"
    );
}

/// Frames of several samples, of a sensor without a clock, that come in one packet: the last sample is
/// as old as the packet, and each before it a sample's time older, over the ends of frames.
#[test]
fn samples_of_frames_that_come_together_are_spread_over_the_time_before() {
    let with_clock = parse(FRAMES);
    let text = FRAMES
        .replace("[clock]\ntick_us = 1000\ntick_of = \"first\"\n", "")
        .replace("role = \"tick\"", "role = \"other\"\nname = \"tick\"");
    let file = parse(&text);
    let mut encoder = Encoder::new(&with_clock).with_samples_per_packet(3);
    let samples = (0..6).map(|number| SensorSample {
        tick: number * encoder.interval(),
        pressure: Pressure::from_kpa(100.0 * number as f64),
        temperature: None,
        battery: None,
        status: 0,
    });
    let samples: Vec<SensorSample> = samples.collect();
    let frames: Vec<Vec<u8>> = samples.iter().filter_map(|s| encoder.push(s)).collect();
    assert_eq!(frames.len(), 2);
    let (mut decoder, mut out) = (Decoder::new(&file), Vec::new());
    decoder.decode(Time::from_s(1.0), &frames.concat(), &mut out);
    let told: Vec<(f64, f64)> = out
        .iter()
        .map(|sample| (sample.time.s(), sample.pressure.kpa()))
        .collect();
    assert_eq!(told.len(), 6);
    // 200 samples a second.
    for (number, (time_s, kpa)) in told.into_iter().enumerate() {
        assert!(
            (time_s - (1.0 - 0.005 * (5 - number) as f64)).abs() < 1e-9,
            "{number}: {time_s}"
        );
        assert!(
            (kpa - 100.0 * number as f64).abs() < 1e-9,
            "{number}: {kpa}"
        );
    }
}

/// A sensor that has no value sends one where its layout has a code for that, and else nothing: never
/// a number that would be taken for a pressure.
#[test]
fn no_value_is_sent_only_where_there_is_a_code_for_it() {
    let none = SensorSample {
        tick: 0,
        pressure: Pressure::from_pa(f64::NAN),
        temperature: None,
        battery: None,
        status: 0,
    };
    // Frames have codes for above and below the range only; the table has one for no value.
    let frames = parse(FRAMES);
    let mut encoder = Encoder::new(&frames);
    assert_eq!(encoder.push(&none), None);
    assert_eq!(encoder.finish(), None);
    let table = parse(TABLE);
    let mut encoder = Encoder::new(&table);
    let message = encoder.push(&none).or_else(|| encoder.finish()).unwrap();
    let (samples, counts) = decode(&table, [&message[..]]);
    assert_eq!((samples.len(), counts.out_of_range), (0, 1));
}

#[test]
fn lines_that_never_end_take_no_memory_and_are_counted() {
    let (file, messages) = (parse(TEXT), Sent::of("text-lines").messages());
    let (mut decoder, mut out) = (Decoder::new(&file), Vec::new());
    for _ in 0..10_000 {
        decoder.decode(Time::ZERO, &[b'$'; 20], &mut out);
    }
    decoder.decode(Time::ZERO, b"\n", &mut out);
    decoder.decode(Time::ZERO, &messages[0], &mut out);
    assert_eq!((out.len(), decoder.counts().unread), (1, 1));
}

#[test]
fn a_table_reads_both_ways_and_says_when_it_ends() {
    let file = parse(TABLE);
    let (samples, counts) = decode(&file, [&[0, 10][..], &[0x0F, 0], &[0, 0], &[1, 0x36]]);
    let told: Vec<(f64, bool)> = samples
        .iter()
        .map(|s| (s.pressure.kpa(), s.out_of_range))
        .collect();
    // 10 counts are above the range, 3840 below it, 0 is no value, 310 are the end of the table.
    assert_eq!(told, [(2000.0, true), (0.0, true), (2000.0, true)]);
    assert_eq!(counts.out_of_range, 4);
    // The steepest stretch, between 310 and 388 counts: 4 bar over 78.
    assert!((file.resolution().unwrap().kpa() - 400.0 / 78.0).abs() < 1e-9);
}

#[test]
fn each_message_is_shown_where_it_stands() {
    let (file, messages) = (parse(FRAMES), Sent::of("frames").messages());
    let stretch = [&[1, 2, 3][..], &messages[1], &messages[0][..6]].concat();
    let shown = explain(&file, &stretch);
    let row = shown
        .rows
        .iter()
        .find(|row| row.role.name() == "sequence")
        .unwrap();
    assert_eq!(
        (row.at, row.raw.as_str(), row.bytes.as_str()),
        (3 + 4, "8", "0800")
    );
    assert!(
        shown.usable && shown.notes.iter().any(|n| n.contains("3 bytes")),
        "{:?}",
        shown.notes
    );

    let (file, messages) = (parse(TEXT), Sent::of("text-lines").messages());
    let line = messages[0].strip_suffix(b"\n").unwrap();
    let shown = explain(&file, line);
    let row = shown
        .rows
        .iter()
        .find(|row| row.role.name() == "pressure")
        .unwrap();
    assert_eq!(row.value, Some(101.33));
    assert_eq!(hex::decode(&row.bytes).unwrap(), b"101.33");
    assert_eq!(&line[row.at..row.at + 6], b"101.33");
    let broken = String::from_utf8(line.to_vec())
        .unwrap()
        .replace("101.33", "101.34");
    let shown = explain(&file, broken.as_bytes());
    assert!(
        !shown.usable && shown.notes[0].contains("check"),
        "{:?}",
        shown.notes
    );
}

/// A line is shown as it is typed, with its end or without.
#[test]
fn a_line_without_its_end_is_shown_as_one_with_it() {
    let (file, messages) = (parse(TEXT), Sent::of("text-lines").messages());
    let whole = explain(&file, &messages[0]);
    let end = messages[0]
        .iter()
        .position(|byte| matches!(byte, b'\r' | b'\n'));
    let typed = explain(&file, &messages[0][..end.unwrap()]);
    assert!(whole.usable && typed.usable && !whole.rows.is_empty());
    assert_eq!(whole.rows, typed.rows);
    // Half a frame is no frame.
    let (file, messages) = (parse(FRAMES), Sent::of("frames").messages());
    let half = explain(&file, &messages[0][..6]);
    assert!(!half.usable && half.rows.is_empty(), "{half:?}");
}

/// What a sensor cannot tell, it says by the words that its file gives for it.
#[test]
fn out_of_range_is_written_as_the_word_for_it() {
    let file = parse(TEXT);
    let word = |pa: f64| {
        let mut encoder = Encoder::new(&file);
        let sample = SensorSample {
            tick: 0,
            pressure: Pressure::from_pa(pa),
            temperature: Some(Temperature::from_celsius(20.0)),
            battery: None,
            status: 0,
        };
        let line = encoder.push(&sample).or_else(|| encoder.finish()).unwrap();
        String::from_utf8(line).unwrap()
    };
    let top = file.range_high().unwrap().pa();
    assert!(word(top * 1.5).contains("HIGH"), "{}", word(top * 1.5));
    assert!(word(-1.0e7).contains("LOW"), "{}", word(-1.0e7));
    let ordinary = word(500_000.0);
    assert!(ordinary.contains("500.") && !ordinary.contains("HIGH") && !ordinary.contains("LOW"));
}

/// A sensor that only answers: how it is asked, and how often, stands in the file.
#[test]
fn a_sensor_that_is_asked_says_how() {
    let asked = parse(ASKED);
    let ask = asked.ask().unwrap();
    assert!(ask.rate_hz > 0.0);
    assert_eq!(asked.question().is_some(), ask.write.is_some());
    assert_eq!(parse(FRAMES).ask(), None);
    assert_eq!(parse(FRAMES).question(), None);
}

/// A table's file that states no range: beyond the table the pressure is that of its end.
#[test]
fn without_a_range_a_table_ends_where_its_points_do() {
    let text = TABLE.replace("range_low = \"0 bar\"\nrange_high = \"20 bar\"\n", "");
    assert_ne!(text, TABLE);
    let (samples, counts) = decode(&parse(&text), [&[0, 10][..], &[0x0F, 0]]);
    let told: Vec<(f64, bool)> = samples
        .iter()
        .map(|s| (s.pressure.kpa(), s.out_of_range))
        .collect();
    assert_eq!(told, [(2000.0, true), (0.0, true)]);
    assert_eq!(counts.out_of_range, 2);
}
