//! What the faults are played on: a recording to play, the program, and how it did.

use needlerest::protocol::{Encoder, ProtocolFile, SensorSample};
use needlerest::recording::{FORMAT, Header, Packet, Record, SensorIdentity, VERSION, Writer};
use needlerest::units::Pressure;
use std::path::Path;
use std::process::{Child, Command, Stdio};

pub const PROTOCOL: &str = include_str!("../../protocol/reference-sensor.toml");

/// The promise: at most so much of what was received is missing after any fault.
pub const PROMISED_US: u64 = 250_000;

/// `SplitMix64` (Steele, Lea, Flood 2014, <https://doi.org/10.1145/2714064.2660195>).
pub struct Random(pub u64);

impl Random {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    pub fn below(&mut self, bound: u64) -> u64 {
        self.next() % bound.max(1)
    }
}

/// How the tool did under one fault.
#[derive(Clone, Debug, Default)]
pub struct Tally {
    pub fault: &'static str,
    pub tries: u64,
    /// Packets received and not kept, in all.
    pub lost: u64,
    /// Longest stretch at the end that was received and is not kept, in microseconds.
    pub lost_us: u64,
    /// Tries whose result was not what was recorded, or that were not told.
    pub wrong: u64,
    /// Longest time from the fault to its being told, in milliseconds.
    pub told_ms: Option<u64>,
    /// What went wrong, or why nothing was tried.
    pub remarks: Vec<String>,
}

impl Tally {
    pub fn of(fault: &'static str) -> Self {
        Self {
            fault,
            ..Self::default()
        }
    }

    pub fn skipped(fault: &'static str, why: &str) -> Self {
        Self {
            remarks: vec![format!("not tried: {why}")],
            ..Self::of(fault)
        }
    }

    pub fn join(mut self, other: Self) -> Self {
        self.tries += other.tries;
        self.lost += other.lost;
        self.lost_us = self.lost_us.max(other.lost_us);
        self.wrong += other.wrong;
        self.told_ms = self.told_ms.max(other.told_ms);
        self.remarks.extend(other.remarks);
        self
    }

    pub fn wrong(&mut self, remark: String) {
        self.wrong += 1;
        self.remarks.push(remark);
    }
}

pub fn header() -> Header {
    Header {
        format: FORMAT.to_owned(),
        version: VERSION,
        tool: "0.1.0".to_owned(),
        started: "2026-05-09T08:30:00Z".to_owned(),
        protocol: PROTOCOL.to_owned(),
        sensor: SensorIdentity::default(),
        card: None,
    }
}

/// The reference sensor's pressure while a holding tester is pumped up every twelve seconds and
/// bled again, in pascal (invented: 900 kPa · (1 − 0.5ⁿ) after stroke n, four strokes a second).
pub fn pumped_pa(time_s: f64) -> f64 {
    let phase = time_s % 12.0;
    let strokes = ((phase - 2.0) * 4.0).floor().clamp(0.0, 20.0);
    if phase > 10.0 {
        return 0.0;
    }
    900e3 * (1.0 - libm::pow(0.5, strokes))
}

/// So many packets of the reference sensor, and when each is received: at `rate_hz` samples a
/// second, so many samples a packet.
pub fn packets(rate_hz: f64, samples: usize) -> impl Iterator<Item = Packet> {
    let file = ProtocolFile::parse(PROTOCOL).expect("a shipped file is sound");
    let tick_us = file.tick_us().expect("the reference sensor has a clock");
    let mut encoder = Encoder::new(&file).with_samples_per_packet(samples);
    encoder.set_rate(needlerest::units::Rate::from_hz(rate_hz));
    let mut number = 0_u64;
    std::iter::from_fn(move || {
        loop {
            let time_s = number as f64 / rate_hz;
            number += 1;
            let sample = SensorSample {
                tick: (time_s * 1e6 / tick_us).round() as u64,
                pressure: Pressure::from_pa(pumped_pa(time_s)),
                temperature: None,
                battery: Some(80.0),
                status: 0,
            };
            if let Some(hex) = encoder.push(&sample) {
                return Some(Packet {
                    t_us: (time_s * 1e6) as u64 + 1,
                    from: "stream".to_owned(),
                    hex,
                });
            }
        }
    })
}

/// A sealed recording of so many packets, fifty a second.
pub fn tape(count: usize) -> (Vec<u8>, Vec<Packet>) {
    let packets: Vec<Packet> = packets(500.0, 10).take(count).collect();
    let mut writer = Writer::begin(Vec::new(), &header()).expect("memory can be written");
    for packet in &packets {
        writer.packet(packet).expect("memory can be written");
    }
    (writer.seal().expect("memory can be written").0, packets)
}

/// Packets and damage in a recording, as far as it can be read.
pub fn kept(path: &Path) -> (Vec<Packet>, Vec<String>) {
    let (mut packets, mut damage) = (Vec::new(), Vec::new());
    let reader = match needlerest::recording::open(path) {
        Ok(reader) => reader,
        Err(error) => return (packets, vec![error.to_string()]),
    };
    for line in reader {
        match line {
            Ok(line) => match line.outcome {
                Ok(Record::Packet(packet)) => packets.push(packet),
                Ok(_) => {}
                Err(error) => damage.push(format!("line {}: {error}", line.number)),
            },
            Err(error) => damage.push(error.to_string()),
        }
    }
    (packets, damage)
}

/// Compares what is kept with what was received: it must be the first part of it.
pub fn judge(tally: &mut Tally, path: &Path, received: &[Packet], seed: u64) {
    let (kept, damage) = kept(path);
    tally.tries += 1;
    let torn = |text: &String| text.contains("breaks off");
    if damage.len() > 1 || !damage.iter().all(torn) {
        tally.wrong(format!("seed {seed}: {damage:?}"));
    }
    if kept.len() > received.len() || kept != received[..kept.len()] {
        tally.wrong(format!("seed {seed}: not what was received"));
        return;
    }
    let missing = &received[kept.len()..];
    if let (Some(first), Some(last)) = (missing.first(), missing.last()) {
        let before = kept.last().map_or(0, |packet| packet.t_us);
        tally.lost += missing.len() as u64;
        tally.lost_us = tally.lost_us.max(last.t_us - before.min(first.t_us));
    }
}

pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_needlerest"));
    command
        .env_remove("RUST_BACKTRACE")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

/// Ends a program at once, as `kill -9` does.
pub fn kill(child: &mut Child) {
    child.kill().expect("it can be killed");
    child.wait().expect("it has ended");
}

/// Runs a tool of the system; gives whether it was there and did its work.
pub fn tool(name: &str, args: &[&str]) -> bool {
    let done = Command::new(name)
        .args(args)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    done.is_ok_and(|status| status.success())
}

/// A number that the environment may set.
pub fn number(name: &str, otherwise: u64) -> u64 {
    let text = std::env::var(name).ok();
    text.and_then(|text| text.parse().ok()).unwrap_or(otherwise)
}
