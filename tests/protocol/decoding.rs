//! Decoding, packet by packet: order, clocks, troubles; each is counted.

use super::shipped::{REFERENCE, environmental, reference};
use needlerest::protocol::{
    Decoder, Encoder, PacketCounts, ProtocolFile, RawSample, Role, SensorSample, explain,
};
use needlerest::units::{Pressure, Temperature, Time};

/// Bluetooth GATT Specification Supplement, Pressure: uint32, unit pascal, resolution 0.1 Pa (read as
/// the documentation of trouble-host 0.2.4 quotes it; edition not seen).
#[test]
fn gatt_pressure() {
    for (bytes, pa) in [
        ([0x02, 0x76, 0x0F, 0x00], 101_325.0),
        ([0x10, 0x27, 0x00, 0x00], 1_000.0),
        ([0x80, 0x84, 0x1E, 0x00], 200_000.0),
        ([0xF8, 0xCE, 0x9D, 0x00], 1_034_213.6),
        ([0xFA, 0x44, 0xAD, 0x00], 1_135_538.6),
        ([0x00, 0x1B, 0xB7, 0x00], 1_200_000.0),
        ([0xFF, 0xFF, 0xFF, 0xFF], 429_496_729.5),
    ] {
        let mut out = Vec::new();
        Decoder::new(&environmental()).decode(Time::from_s(3.0), &bytes, &mut out);
        assert!((out[0].pressure.pa() - pa).abs() < 1e-6);
        assert_eq!(out[0].time.s(), 3.0);
        // The last code may stand for anything above it.
        assert_eq!(out[0].out_of_range, bytes == [0xFF; 4]);
    }
}

/// Bluetooth GATT Specification Supplement: Battery Level (uint8, percent), read as the documentation
/// of trouble-host 0.2.4 quotes it (edition not seen), and Temperature (sint16, 0.01 °C; from memory).
#[test]
fn readings_beside_the_stream() {
    let mut decoder = Decoder::new(&environmental());
    let mut out = Vec::new();
    decoder.accept("battery", Time::ZERO, &[73], &mut out);
    decoder.accept("temperature", Time::ZERO, &[0x2E, 0xFB], &mut out);
    decoder.accept("nonsense", Time::ZERO, &[1, 2, 3], &mut out);
    decoder.accept("stream", Time::ZERO, &[0, 0, 0, 0], &mut out);
    assert_eq!(decoder.battery(), Some(73.0));
    assert!((out[0].temperature.unwrap().celsius() + 12.34).abs() < 1e-9);
    // 0x8000 means that the value is not known; the last one stays.
    decoder.accept("temperature", Time::ZERO, &[0x00, 0x80], &mut out);
    decoder.accept("temperature", Time::ZERO, &[0x00], &mut out);
    decoder.accept("stream", Time::ZERO, &[0, 0, 0, 0], &mut out);
    assert!((out[1].temperature.unwrap().celsius() + 12.34).abs() < 1e-9);
    assert_eq!(decoder.counts().short, 1);
}

/// The newest word counts, whether a packet's head tells the same as before or not.
#[test]
fn head_and_reading_tell_the_battery_in_turn() {
    let file = reference();
    let mut decoder = Decoder::new(&file);
    let mut out = Vec::new();
    let packets = packets(&file, 3, 0);
    for packet in &packets[..2] {
        decoder.accept("stream", Time::ZERO, packet, &mut out);
        assert_eq!(decoder.battery(), Some(87.0));
    }
    decoder.accept("battery", Time::ZERO, &[40], &mut out);
    assert_eq!(decoder.battery(), Some(40.0));
    decoder.accept("stream", Time::ZERO, &packets[2], &mut out);
    assert_eq!(decoder.battery(), Some(87.0));
}

/// Each packet with bits that the protocol file does not know counts, alike or not.
#[test]
fn unknown_status_counts_every_time() {
    let file = reference();
    let mut decoder = Decoder::new(&file);
    let mut out = Vec::new();
    for (index, packet) in packets(&file, 6, 0).iter().enumerate() {
        let mut packet = packet.clone();
        packet[10] = if index < 4 { 0x80 } else { 0 };
        decoder.accept("stream", Time::ZERO, &packet, &mut out);
    }
    assert_eq!(decoder.status(), Some(0));
    assert_eq!(decoder.counts().unknown_status, 4);
}

const PERIOD_US: u64 = 2_000;

/// So many packets of ten samples, 20 ms apart; sample i is at i kPa.
fn packets(file: &ProtocolFile, count: usize, first_tick: u64) -> Vec<Vec<u8>> {
    let mut encoder = Encoder::new(file);
    let samples = (0..10 * count as u64).map(|i| SensorSample {
        tick: first_tick + i * PERIOD_US,
        pressure: Pressure::from_kpa((i % 1000) as f64),
        temperature: Some(Temperature::from_celsius(21.5)),
        battery: Some(87.0),
        status: 0,
    });
    samples.filter_map(|sample| encoder.push(&sample)).collect()
}

/// Decodes packets that arrive 20 ms apart.
fn decode(file: &ProtocolFile, packets: &[&[u8]]) -> (Vec<RawSample>, PacketCounts) {
    let mut decoder = Decoder::new(file);
    let mut out = Vec::new();
    for (i, packet) in packets.iter().enumerate() {
        decoder.decode(Time::from_s(0.02 * i as f64), packet, &mut out);
    }
    decoder.flush(&mut out);
    let times_rise = out.windows(2).all(|pair| pair[0].time < pair[1].time);
    assert!(times_rise);
    (out, decoder.counts())
}

fn slices(packets: &[Vec<u8>]) -> Vec<&[u8]> {
    packets.iter().map(Vec::as_slice).collect()
}

/// Every sample is at the time and has the pressure that the encoder was given.
fn assert_true_to_time(samples: &[RawSample]) {
    for sample in samples {
        let number = sample.time.s() * 1e6 / PERIOD_US as f64;
        assert!((number - number.round()).abs() < 1e-6, "{sample:?}");
        assert_eq!(sample.pressure.kpa(), number.round() % 1000.0, "{sample:?}");
    }
}

#[test]
fn packets_in_order_decode_without_a_gap() {
    let file = reference();
    let (out, counts) = decode(&file, &slices(&packets(&file, 50, 777)));
    assert_eq!(
        counts,
        PacketCounts {
            received: 50,
            samples: 500,
            ..PacketCounts::default()
        }
    );
    assert!(out.iter().all(|s| !s.gap_before && !s.out_of_range));
    assert_eq!(out[0].temperature.unwrap(), Temperature::from_celsius(21.5));
    assert_true_to_time(&out);
}

#[test]
fn sequence_and_tick_go_round() {
    let file = reference();
    // 70,000 packets of one sample take the 16-bit sequence round; the 32-bit tick starts 30 s
    // before its end.
    let mut encoder = Encoder::new(&file).with_samples_per_packet(1);
    let mut decoder = Decoder::new(&file);
    let mut out = Vec::new();
    let start = u64::from(u32::MAX) - 30_000_000;
    for i in 0..70_000 {
        let packet = encoder.push(&SensorSample {
            tick: start + i * PERIOD_US,
            pressure: Pressure::from_kpa((i % 1000) as f64),
            temperature: None,
            battery: None,
            status: 0,
        });
        decoder.decode(Time::from_us(i * PERIOD_US), &packet.unwrap(), &mut out);
    }
    let counts = PacketCounts {
        received: 70_000,
        samples: 70_000,
        ..PacketCounts::default()
    };
    assert_eq!(decoder.counts(), counts);
    assert_true_to_time(&out);
    assert!((out[69_999].time.s() - 139.998).abs() < 1e-6);
    assert_eq!((out[0].temperature, decoder.battery()), (None, None));
}

#[test]
fn lost_packets_are_counted_and_leave_a_gap() {
    let file = reference();
    let all = packets(&file, 40, 0);
    let kept: Vec<&[u8]> = slices(&all)
        .into_iter()
        .enumerate()
        .filter(|(i, _)| !matches!(i, 7 | 20..=25))
        .map(|(_, p)| p)
        .collect();
    let (out, counts) = decode(&file, &kept);
    assert_eq!((counts.lost, counts.received, counts.samples), (7, 33, 330));
    let gaps: Vec<f64> = out
        .iter()
        .filter(|s| s.gap_before)
        .map(|s| s.pressure.kpa())
        .collect();
    assert_eq!(gaps, [80.0, 260.0]);
    assert_true_to_time(&out);
}

#[test]
fn repeated_and_late_packets_are_counted_not_used() {
    let file = reference();
    let all = packets(&file, 30, 0);
    let mut sent = slices(&all);
    sent.insert(6, &all[5]);
    sent.insert(20, &all[2]);
    let (out, counts) = decode(&file, &sent);
    assert_eq!((counts.repeated, counts.lost, counts.samples), (2, 0, 300));
    assert!(out.iter().all(|s| !s.gap_before));
}

#[test]
fn swapped_packets_are_put_back() {
    let file = reference();
    let all = packets(&file, 30, 0);
    let mut sent = slices(&all);
    sent.swap(4, 5);
    sent.swap(10, 12);
    let straight = decode(&file, &slices(&all)).0;
    let (out, counts) = decode(&file, &sent);
    assert_eq!(out, straight);
    assert_eq!((counts.reordered, counts.lost, counts.repeated), (3, 0, 0));
}

#[test]
fn a_packet_is_waited_for_but_not_for_long() {
    let file = reference();
    let all = packets(&file, 20, 0);
    let mut decoder = Decoder::new(&file);
    let mut out = Vec::new();
    decoder.decode(Time::ZERO, &all[0], &mut out);
    for (i, packet) in all[2..5].iter().enumerate() {
        decoder.decode(Time::from_s(0.04 + 0.02 * i as f64), packet, &mut out);
    }
    assert_eq!(out.len(), 10, "three are held back");
    decoder.decode(Time::from_s(0.1), &all[5], &mut out);
    assert_eq!(
        out.len(),
        50,
        "the fourth shows that the missing one is lost"
    );
    assert_eq!(decoder.counts().lost, 1);
    decoder.decode(Time::from_s(0.12), &all[1], &mut out);
    assert_eq!(decoder.counts().repeated, 1, "too late to be used");
    // A slow sensor's packet is not held back for more than a quarter of a second's worth.
    decoder.decode(Time::from_s(0.14), &all[7], &mut out);
    decoder.decode(Time::from_s(0.64), &all[9], &mut out);
    assert_eq!(out.len(), 70);
    assert_eq!(decoder.counts().lost, 3);
}

#[test]
fn short_and_long_payloads() {
    let file = reference();
    let all = packets(&file, 4, 0);
    let long = [all[2].clone(), vec![9]].concat();
    for cut in 0..all[1].len() {
        let short = &all[1][..cut];
        let (out, counts) = decode(&file, &[&all[0], short, &long, &all[3]]);
        // Ten samples of three bytes, after 14 bytes before them: any whole number of samples.
        let whole = if cut >= 14 { (cut - 14) / 3 } else { 0 };
        let left_over = cut > 14 && (cut - 14) % 3 != 0;
        let unusable = cut < 14 || (whole == 0 && left_over);
        assert_eq!(counts.short, u64::from(unusable), "{cut}");
        assert_eq!(counts.long, 1 + u64::from(left_over && !unusable), "{cut}");
        assert_eq!(counts.samples, 30 + whole as u64, "{cut}");
        // Where not even the sequence number is there, the packet is also missing.
        assert_eq!(counts.lost, u64::from(cut < 2), "{cut}");
        assert_eq!(
            out.iter().filter(|s| s.gap_before).count(),
            usize::from(unusable),
            "{cut}"
        );
    }
}

#[test]
fn codes_for_out_of_range_and_for_no_value() {
    let file = reference();
    let head = packets(&file, 1, 0)[0][..14].to_vec();
    let codes: [i32; 5] = [8_388_607, -8_388_608, -8_388_607, 2_500_000, 2_499_999];
    let samples: Vec<u8> = codes
        .iter()
        .flat_map(|code| code.to_le_bytes()[..3].to_vec())
        .collect();
    let (out, counts) = decode(&file, &[&[head, samples].concat()]);
    let told: Vec<_> = out
        .iter()
        .map(|s| (s.pressure.kpa(), s.out_of_range, s.gap_before))
        .collect();
    assert_eq!(
        told,
        [
            (2500.0, true, false),
            (-100.0, true, false),
            // The one between held no value: it is left out, and leaves a gap.
            (2500.0, true, true),
            (2499.999, false, false),
        ]
    );
    assert_eq!((counts.out_of_range, counts.samples), (4, 4));
}

#[test]
fn floats_that_are_no_numbers_are_left_out() {
    for (kind, bad) in [
        ("f32", f32::NAN.to_le_bytes()),
        ("f32", 3.0e38_f32.to_le_bytes()),
        ("float", 0x007F_FFFF_u32.to_le_bytes()),
        ("float", 0x0080_0000_u32.to_le_bytes()),
        ("float", 0x7F7F_FFF0_u32.to_le_bytes()),
    ] {
        let text =
            super::shipped::ENVIRONMENTAL.replace("type = \"u32\"", &format!("type = \"{kind}\""));
        let file = ProtocolFile::parse(&text).unwrap();
        let (out, counts) = decode(&file, &[&[0; 4], &bad, &[0; 4]]);
        assert_eq!((out.len(), counts.out_of_range), (2, 1), "{kind} {bad:?}");
        assert!(out[1].gap_before);
    }
}

#[test]
fn status_bits_that_the_file_does_not_know_are_counted() {
    let file = reference();
    let mut packet = packets(&file, 1, 0).remove(0);
    packet[10] = 0b1010_0101;
    let mut decoder = Decoder::new(&file);
    decoder.decode(Time::ZERO, &packet, &mut Vec::new());
    assert_eq!(decoder.counts().unknown_status, 1);
    let status = decoder.status().unwrap();
    let meanings: Vec<&str> = file
        .status_bits(status)
        .map(|bit| bit.meaning.as_str())
        .collect();
    assert_eq!(
        meanings,
        ["battery low", "sensing element failed its self-test"]
    );
    assert_eq!(
        file.severity(status),
        Some(needlerest::protocol::Severity::Fault)
    );
    assert_eq!(file.severity(0), None);
}

/// Each bit that the file explains is known, each other one is not.
#[test]
fn a_status_bit_is_known_if_the_file_explains_it() {
    let file = reference();
    let known: Vec<u32> = file.spec().status_bits.iter().map(|bit| bit.bit).collect();
    assert_eq!(known, [0, 1, 2, 3, 4]);
    for bit in 0..8 {
        let mut packet = packets(&file, 1, 0).remove(0);
        packet[10] = 1 << bit;
        let mut decoder = Decoder::new(&file);
        decoder.decode(Time::ZERO, &packet, &mut Vec::new());
        let unknown = decoder.counts().unknown_status;
        assert_eq!(unknown, u64::from(bit > 4), "bit {bit}");
        let shown = explain(&file, &packet);
        let row = shown.rows.iter().find(|row| row.role == Role::Status);
        let meaning = row.and_then(|row| row.meaning.as_deref()).unwrap();
        assert_eq!(meaning.contains("unknown bits"), bit > 4, "{meaning}");
    }
}

/// Two decodings on either side of a lost link.
fn over_a_lost_link(away_s: f64, tick_after: u64) -> (Vec<RawSample>, PacketCounts) {
    let file = reference();
    let mut decoder = Decoder::new(&file);
    let mut out = Vec::new();
    decoder.decode(Time::ZERO, &packets(&file, 1, 5_000_000)[0], &mut out);
    decoder.link_lost(&mut out);
    decoder.decode(
        Time::from_s(away_s),
        &packets(&file, 1, tick_after)[0],
        &mut out,
    );
    (out, decoder.counts())
}

#[test]
fn a_clock_that_runs_on_while_the_link_is_lost_is_believed() {
    let (out, counts) = over_a_lost_link(3.1, 8_000_000);
    assert_eq!(
        (counts.link_losses, counts.restarts, counts.lost),
        (1, 0, 0)
    );
    assert!((out[10].time.s() - 3.0).abs() < 1e-9);
    assert!(out[10].gap_before);
    assert_eq!(out.iter().filter(|s| s.gap_before).count(), 1);
}

#[test]
fn turns_of_the_clock_while_the_link_is_lost_are_counted_by_the_hosts() {
    // 2³² µs are 4294.967296 s: the counter goes round twice, and is 1 s further on.
    let (out, counts) = over_a_lost_link(2.0 * 4_294.967_296 + 1.3, 6_000_000);
    assert_eq!(counts.restarts, 0);
    assert!((out[10].time.s() - (2.0 * 4_294.967_296 + 1.0)).abs() < 1e-6);
}

#[test]
fn a_sensor_that_was_switched_off_begins_anew_and_time_goes_on() {
    let (out, counts) = over_a_lost_link(60.0, 100_000);
    assert_eq!(counts.restarts, 1);
    assert!((out[10].time.s() - 60.0).abs() < 1e-6);
}

#[test]
fn sequence_numbers_that_jump_are_a_restart() {
    let file = reference();
    let mut late = packets(&file, 2, 1_000_000);
    late[0][..2].copy_from_slice(&40_000_u16.to_le_bytes());
    let first = packets(&file, 1, 0);
    let (out, counts) = decode(&file, &[&first[0], &late[0]]);
    assert_eq!((counts.restarts, counts.lost, counts.samples), (1, 0, 20));
    assert!(out[10].gap_before);
}

#[test]
fn without_a_clock_samples_are_spread_back_from_arrival() {
    let text = REFERENCE
        .replace("[clock]\ntick_us = 1\ntick_of = \"first\"\n", "")
        .replace("role = \"interval\"", "role = \"other\"")
        .replace("role = \"tick\"", "role = \"other\"")
        .replace("set_rate = \"04 {rate:u16}\"\n", "");
    let file = ProtocolFile::parse(&text).unwrap();
    let all = packets(&file, 3, 0);
    let mut decoder = Decoder::new(&file);
    let mut out = Vec::new();
    decoder.decode(Time::from_s(1.0), &all[0], &mut out);
    assert!((out[0].time.s() - 0.982).abs() < 1e-9);
    assert_eq!(out[9].time.s(), 1.0);
    // Two packets in one burst: time still rises.
    decoder.decode(Time::from_s(1.02), &all[1], &mut out);
    decoder.decode(Time::from_s(1.02), &all[2], &mut out);
    assert!(out.windows(2).all(|pair| pair[0].time < pair[1].time));
    assert!((out[29].time.s() - 1.02).abs() < 1e-4);
}

#[test]
fn commands_of_the_reference_sensor() {
    use needlerest::protocol::{Command, CommandError};
    use needlerest::units::Rate;
    let file = reference();
    assert_eq!(file.encode(Command::Start).unwrap(), [1]);
    assert_eq!(file.encode(Command::Stop).unwrap(), [2]);
    assert_eq!(file.encode(Command::Zero).unwrap(), [3]);
    let rate = |hz| file.encode(Command::SetRate(Rate::from_hz(hz)));
    assert_eq!(rate(1000.0).unwrap(), [4, 0xE8, 0x03]);
    for hz in [9.0, 1001.0, f64::NAN, f64::INFINITY, -1.0] {
        assert!(matches!(rate(hz), Err(CommandError::Rate { .. })), "{hz}");
    }
    let none = environmental().encode(Command::Start);
    assert_eq!(none, Err(CommandError::Unsupported("start")));
    let by_interval = REFERENCE.replace("{rate:u16}", "{interval:u32} FF");
    let file = ProtocolFile::parse(&by_interval).unwrap();
    let bytes = file.encode(Command::SetRate(Rate::from_hz(500.0))).unwrap();
    assert_eq!(bytes, [4, 0xD0, 0x07, 0, 0, 0xFF]);
}

/// GUM 4.3.7: a rectangle of half-width a has the standard uncertainty a/√3; F.2.2.1: a step q,
/// q/√12.
#[test]
fn uncertainty_from_what_the_file_states() {
    let file = reference();
    // 0.25 % of a span of 2600 kPa.
    assert!((file.accuracy().unwrap().kpa() - 6.5).abs() < 1e-12);
    assert!((file.accuracy_uncertainty().unwrap().kpa() - 3.752_776_749_732_568).abs() < 1e-12);
    assert!((file.resolution_uncertainty().unwrap().pa() - 28.867_513_459_481_29).abs() < 1e-9);
    assert_eq!(file.accuracy_text(), "±6.5 kPa (0.25 % of span)");
    let file = environmental();
    assert_eq!(
        (file.accuracy(), file.accuracy_text().as_str()),
        (None, "not stated")
    );
    assert!((file.resolution().unwrap().pa() - 0.1).abs() < 1e-12);
}

/// Counts of several recordings add up, each entry by itself.
#[test]
fn counts_add_up_entry_by_entry() {
    let mut sum = PacketCounts::default();
    let entries = serde_json::to_value(PacketCounts::default()).unwrap();
    let names: Vec<String> = entries.as_object().unwrap().keys().cloned().collect();
    let numbered = |times: u64| -> PacketCounts {
        let entries = names
            .iter()
            .zip(1..)
            .map(|(name, n)| (name.clone(), (n * times).into()));
        serde_json::from_value(serde_json::Value::Object(entries.collect())).unwrap()
    };
    sum += numbered(1);
    sum += numbered(10);
    assert_eq!(sum, numbered(11));
    assert!(names.len() >= 11, "{names:?}");
}

/// Water freezes and boils at 0 °C, 32 °F, 273.15 K and 100 °C, 212 °F, 373.15 K (NIST SP 811,
/// appendix B.8: t/°C = (t/°F − 32)/1.8); both ways.
#[test]
fn temperatures_in_every_unit() {
    for (unit, freezes, boils) in [
        ("celsius", 0.0, 100.0),
        ("fahrenheit", 32.0, 212.0),
        ("kelvin", 273.15, 373.15),
    ] {
        let text = REFERENCE.replace(
            "scale = 0.01\nunit = \"celsius\"",
            &format!("scale = 0.01\nunit = \"{unit}\""),
        );
        let text = text.replace("type = \"i16\"", "type = \"i32\"");
        let file = ProtocolFile::parse(&text).unwrap();
        for (celsius, written) in [(0.0, freezes), (100.0, boils)] {
            let mut encoder = Encoder::new(&file).with_samples_per_packet(1);
            let payload = encoder
                .push(&SensorSample {
                    tick: 0,
                    pressure: Pressure::ZERO,
                    temperature: Some(Temperature::from_celsius(celsius)),
                    battery: None,
                    status: 0,
                })
                .unwrap();
            let shown = explain(&file, &payload);
            let row = shown.rows.iter().find(|row| row.role == Role::Temperature);
            let value = row.and_then(|row| row.value).unwrap();
            assert!((value - written).abs() < 0.006, "{unit}: {value}");
            let (samples, _) = decode(&file, &[&payload]);
            let read = samples[0].temperature.unwrap().celsius();
            assert!((read - celsius).abs() < 0.006, "{unit}: {read}");
        }
    }
}

/// Where the file states no range, a code for "above" or "below" it stands for the end of what the
/// number can tell.
#[test]
fn without_a_range_out_of_range_is_the_end_of_the_numbers() {
    let text = REFERENCE
        .replace("range_low = \"-100 kPa\"\nrange_high = \"2500 kPa\"\n", "")
        .replace("accuracy_percent_of_span = 0.25\n", "");
    let file = ProtocolFile::parse(&text).unwrap();
    let mut encoder = Encoder::new(&file).with_samples_per_packet(2);
    let sample = |tick, pa| SensorSample {
        tick,
        pressure: Pressure::from_pa(pa),
        temperature: None,
        battery: None,
        status: 0,
    };
    assert!(encoder.push(&sample(0, 9.0e6)).is_none());
    let payload = encoder.push(&sample(encoder.interval(), -9.0e6)).unwrap();
    let (samples, counts) = decode(&file, &[&payload]);
    let told: Vec<(f64, bool)> = samples
        .iter()
        .map(|sample| (sample.pressure.pa(), sample.out_of_range))
        .collect();
    // 24 bits with a sign, in pascal.
    assert_eq!(told, [(8_388_607.0, true), (-8_388_608.0, true)]);
    assert_eq!(counts.out_of_range, 2);
}
