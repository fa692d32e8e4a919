//! A day without pause, in simulated time, through the real path: encoder, writer, file, reader,
//! decoder, analysis. Run it by itself, so that the memory it measures is its own:
//! `cargo test --release --test reliability soak -- --ignored --nocapture`

use super::support::{header, number};
use needlerest::pipeline::{News, Options, Player};
use needlerest::protocol::{Encoder, ProtocolFile, SensorSample};
use needlerest::recording::{Packet, Writer};
use needlerest::signal::{Event, Outcome, RunResult};
use needlerest::units::{Pressure, Rate};
use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::Path;

const RATE_HZ: u64 = 1000;
const SAMPLES_PER_PACKET: u64 = 10;
/// From one run to the next, in seconds: fewer runs than are kept.
const CYCLE_S: f64 = 120.0;

/// A holding tester, pumped up four strokes a second, held, and bled after a minute and a half
/// (invented: 900 kPa · (1 − 0.5ⁿ) after stroke n).
fn pressure(time_s: f64) -> Pressure {
    let phase = time_s % CYCLE_S;
    let strokes = ((phase - 5.0) * 4.0).floor().clamp(0.0, 24.0);
    if phase > 95.0 {
        return Pressure::ZERO;
    }
    Pressure::from_pa(900e3 * (1.0 - libm::pow(0.5, strokes)))
}

/// What this process holds, in KiB.
fn held_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status
        .lines()
        .find(|line| line.starts_with("VmRSS:"))
        .unwrap_or_default();
    line.split_whitespace()
        .nth(1)
        .and_then(|word| word.parse().ok())
        .unwrap_or(0)
}

/// Writes the session; gives what was held after a twelfth of it and in the end.
fn record(path: &Path, hours: u64) -> (u64, u64) {
    let header = header();
    let file = ProtocolFile::parse(&header.protocol).expect("a shipped file is sound");
    let tick_us = file.tick_us().expect("a clock");
    let mut encoder = Encoder::new(&file).with_samples_per_packet(SAMPLES_PER_PACKET as usize);
    encoder.set_rate(Rate::from_hz(RATE_HZ as f64));
    let mut writer = Writer::create(path, &header).expect("room on the disk");
    let count = hours * 3600 * RATE_HZ;
    let mut early = 0;
    for number in 0..count {
        let time_us = number * 1_000_000 / RATE_HZ;
        let sample = SensorSample {
            tick: (time_us as f64 / tick_us).round() as u64,
            pressure: pressure(time_us as f64 / 1e6),
            temperature: None,
            battery: Some(80.0),
            status: 0,
        };
        if let Some(hex) = encoder.push(&sample) {
            let from = "stream".to_owned();
            writer
                .packet(&Packet {
                    t_us: time_us,
                    from,
                    hex,
                })
                .expect("room on the disk");
        }
        if number == count / 12 {
            early = held_kib();
        }
    }
    writer.seal().expect("room on the disk");
    (early, held_kib())
}

/// Size of the file by the format's specification: of each packet's line everything is fixed but
/// the digits of its time and of its number.
fn predicted(header_length: u64, payload: u64, packets: u64) -> u64 {
    let fixed = "{\"type\":\"packet\",\"t_us\":,\"from\":\"stream\",\"hex\":\"\",\"n\":,\"crc\":\"00000000\"}\n";
    let digits = |number: u64| u64::from(number.checked_ilog10().unwrap_or(0)) + 1;
    let line = |packet: u64| {
        let t_us = ((packet + 1) * SAMPLES_PER_PACKET - 1) * 1_000_000 / RATE_HZ;
        fixed.len() as u64 + 2 * payload + digits(t_us) + digits(packet + 2)
    };
    let seal = "{\"type\":\"seal\",\"sha256\":\"\",\"lines\":,\"n\":,\"crc\":\"00000000\"}\n";
    let seal = seal.len() as u64 + 64 + digits(packets + 1) + digits(packets + 2);
    header_length + (0..packets).map(line).sum::<u64>() + seal
}

/// What a run came to, apart from when.
fn decision(run: &RunResult) -> (Outcome, Option<u32>, usize, i64) {
    let reading = run.reading.as_ref();
    (
        run.outcome,
        run.call.map(|call| call.count),
        run.strokes.len(),
        // To ten pascal: the time of day may change the last bits of a fit.
        reading.map_or(0, |reading| (reading.value.pa() / 10.0).round() as i64),
    )
}

#[test]
#[ignore = "takes minutes and two gigabytes of disk"]
fn soak_of_a_day_in_simulated_time() {
    let hours = number("SOAK_HOURS", 24);
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("day.jsonl");
    let writing = record(&path, hours);
    println!("held while writing: {writing:?} KiB (a twelfth of the way, at the end)");
    let size = path.metadata().expect("written").len();

    let input = BufReader::with_capacity(1 << 16, File::open(&path).expect("written"));
    let mut player = Player::open(input, Options::default()).expect("sound");
    let (mut steps, mut early, mut decisions, mut settled) = (0_u64, 0, Vec::new(), 0);
    let packets = hours * 3600 * RATE_HZ / SAMPLES_PER_PACKET;
    while let Some(step) = player.step().expect("the disk holds") {
        for event in step.news {
            match event {
                News::RunEnded { result, .. } => decisions.push(decision(result)),
                News::Signal(Event::Settled { .. }) => settled += 1,
                _ => {}
            }
        }
        steps += 1;
        if steps == packets / 12 {
            early = held_kib();
        }
    }
    let late = held_kib();
    println!(
        "held while reading: ({early}, {late}) KiB; {} runs, {settled} settled",
        decisions.len()
    );
    let analysis = player.finish().expect("the disk holds");
    assert!(analysis.findings.recording.seal_holds);
    assert_eq!(analysis.findings.sensor.packets.lost, 0);
    assert_eq!(
        analysis.findings.sensor.packets.samples,
        hours * 3600 * RATE_HZ
    );

    let mut line = Vec::new();
    let mut again = BufReader::new(File::open(&path).expect("written"));
    let header_length = again.read_until(b'\n', &mut line).expect("a header") as u64;
    let payload = payload_length();
    let expected = predicted(header_length, payload, packets);
    println!(
        "size {size} bytes, predicted {expected}; decisions: {:?}",
        decisions.first()
    );
    assert_eq!(size, expected);

    let first = *decisions.first().expect("runs");
    assert_eq!(first.0, Outcome::Settled);
    // The last run may be cut by the end of the day.
    let whole = &decisions[..decisions.len() - 1];
    assert_eq!(whole.len() as u64, hours * 3600 / CYCLE_S as u64 - 1);
    for (number, other) in whole.iter().enumerate() {
        assert_eq!(other, &first, "run {number}");
    }
    // Each run that is kept holds its strokes and its trace; nothing else may grow.
    let runs_kib = whole.len() as u64 * 11 / 12 * 24;
    assert!(writing.1 < writing.0 + 4 * 1024, "{writing:?}");
    assert!(late < early + runs_kib + 8 * 1024, "{early} {late}");
}

fn payload_length() -> u64 {
    let mut packets = super::support::packets(RATE_HZ as f64, SAMPLES_PER_PACKET as usize);
    packets.next().map_or(0, |packet| packet.hex.len() as u64)
}
