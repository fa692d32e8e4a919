//! How fast a recording is written and read, beside a plain pass that only reads the bytes and
//! computes their CRC-32: by table, as usual, and as fast as the processor can; and with the SHA-256
//! that a seal holds as well.
//!
//! `cargo bench --bench recording`

use crc::{CRC_32_ISO_HDLC, Crc, Table};
use needlerest::protocol::{Decoder, Encoder, ProtocolFile, SensorSample};
use needlerest::recording::{
    FORMAT, Header, Packet, Reader, Record, SensorIdentity, VERSION, Writer,
};
use needlerest::units::{Pressure, Temperature, Time};
use sha2::{Digest, Sha256};
use std::hint::black_box;
use std::io::BufRead;
use std::time::Instant;

static CRC: Crc<u32, Table<16>> = Crc::<u32, Table<16>>::new(&CRC_32_ISO_HDLC);
const PROTOCOL: &str = include_str!("../../protocol/reference-sensor.toml");
/// An hour at 1 kHz, ten samples a packet.
const SAMPLES: u64 = 3_600_000;

fn write(file: &ProtocolFile) -> Vec<u8> {
    let header = Header {
        format: FORMAT.to_owned(),
        version: VERSION,
        tool: "bench".to_owned(),
        started: "2026-05-09T08:30:00Z".to_owned(),
        protocol: PROTOCOL.to_owned(),
        sensor: SensorIdentity::default(),
        card: None,
    };
    let mut writer = Writer::begin(Vec::new(), &header).expect("memory");
    let mut encoder = Encoder::new(file);
    for i in 0..SAMPLES {
        let sample = SensorSample {
            tick: i * encoder.interval(),
            pressure: Pressure::from_pa((i * 37 % 1_000_000) as f64),
            temperature: Some(Temperature::from_celsius(21.5)),
            battery: Some(80.0),
            status: 0,
        };
        if let Some(hex) = encoder.push(&sample) {
            let from = "stream".to_owned();
            let packet = Packet {
                t_us: i * 1_000,
                from,
                hex,
            };
            writer.packet(&packet).expect("memory");
        }
    }
    writer.seal().expect("memory").0
}

fn plain(bytes: &[u8], checksum: impl Fn(&[u8]) -> u32) {
    let mut input = std::io::BufReader::with_capacity(1 << 16, bytes);
    let mut line = Vec::new();
    while input.read_until(b'\n', &mut line).expect("memory") > 0 {
        black_box(checksum(&line));
        line.clear();
    }
}

fn read(bytes: &[u8]) {
    let input = std::io::BufReader::with_capacity(1 << 16, bytes);
    for line in Reader::new(input).expect("a recording") {
        black_box(line.expect("memory").outcome.expect("sound"));
    }
}

fn decode(bytes: &[u8], file: &ProtocolFile) {
    let mut decoder = Decoder::new(file);
    let mut samples = Vec::new();
    for line in Reader::new(bytes).expect("a recording") {
        if let Ok(Record::Packet(packet)) = line.expect("memory").outcome {
            let at = Time::from_us(packet.t_us);
            decoder.accept(&packet.from, at, &packet.hex, &mut samples);
            black_box(&samples);
            samples.clear();
        }
    }
}

/// The quickest of five, in seconds.
fn quickest(mut work: impl FnMut()) -> f64 {
    let times = (0..5).map(|_| {
        let start = Instant::now();
        work();
        start.elapsed().as_secs_f64()
    });
    times.fold(f64::INFINITY, f64::min)
}

fn main() {
    let file = ProtocolFile::parse(PROTOCOL).expect("the shipped file");
    let bytes = write(&file);
    let size = bytes.len() as f64 / 1e6;
    println!("an hour at 1 kHz: {size:.1} MB");
    let by_table = |line: &[u8]| CRC.checksum(line);
    let by_instructions = quickest(|| plain(&bytes, crc32fast::hash));
    let with_digest = quickest(|| {
        plain(&bytes, crc32fast::hash);
        black_box(Sha256::digest(&bytes));
    });
    let plain = quickest(|| plain(&bytes, by_table));
    let rows = [
        ("plain pass, CRC-32 by table", plain),
        ("… by the processor's own instructions", by_instructions),
        ("… and the seal's SHA-256", with_digest),
        ("read, verify, parse", quickest(|| read(&bytes))),
        (
            "… and decode to samples",
            quickest(|| decode(&bytes, &file)),
        ),
        ("encode and write", quickest(|| drop(write(&file)))),
    ];
    for (what, seconds) in rows {
        let share = 100.0 * plain / seconds;
        println!(
            "{what:<38} {:>7.0} MB/s  {share:>5.1} % of the plain pass",
            size / seconds
        );
    }
}
