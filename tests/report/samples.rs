//! Raw samples, as the table of samples has them: what the sensor sent, on one clock, through a
//! lost link and a recording that was resumed.

use needlerest::pipeline::{Options, Player};
use needlerest::protocol::{Encoder, ProtocolFile, SensorSample};
use needlerest::recording::{
    Event, Header, Packet, Reader, Record, SensorIdentity, TimedEvent, Writer,
};
use needlerest::units::{Pressure, Rate};
use std::fs;
use std::path::Path;

/// From one sample to the next, in microseconds.
const STEP_US: u64 = 5_000;

/// A visit as it came over the air, and every sample in it: when it was taken, in seconds since
/// recording began, and its pressure.
pub struct Visit {
    pub bytes: Vec<u8>,
    truth: Vec<(f64, f64)>,
}

/// Three stretches: up to a lost link, after it, and after the recording was resumed with the
/// sensor switched on anew, its clock somewhere else.
pub fn visit(protocol: &str) -> Visit {
    let text = fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("protocol/{protocol}.toml")),
    )
    .unwrap();
    let file = ProtocolFile::parse(&text).unwrap();
    let header = Header {
        format: needlerest::recording::FORMAT.to_owned(),
        version: needlerest::recording::VERSION,
        tool: "test".to_owned(),
        started: "2026-05-02T09:14:00Z".to_owned(),
        protocol: text,
        sensor: SensorIdentity::default(),
        card: None,
    };
    let mut writer = Writer::begin(Vec::new(), &header).unwrap();
    let mut truth = Vec::new();
    let say = |writer: &mut Writer<Vec<u8>>, t_us, event| {
        writer.event(&TimedEvent { t_us, event }).unwrap();
    };
    let mut encoder = encoder(&file);
    stretch(&mut writer, &mut encoder, &mut truth, (0, 400), 0);
    say(&mut writer, 2_100_000, Event::LinkLost);
    say(&mut writer, 4_900_000, Event::LinkBack);
    // What the sensor sent meanwhile is lost; its clock went on.
    stretch(&mut writer, &mut encoder, &mut truth, (1000, 1400), 0);
    let at = "2026-05-02T09:20:00Z".to_owned();
    say(&mut writer, 7_200_000, Event::Resumed { at });
    let mut encoder = self::encoder(&file);
    stretch(
        &mut writer,
        &mut encoder,
        &mut truth,
        (1600, 2000),
        77_000_000,
    );
    Visit {
        bytes: writer.seal().unwrap().0,
        truth,
    }
}

fn encoder(file: &ProtocolFile) -> Encoder {
    let mut encoder = Encoder::new(file);
    encoder.set_rate(Rate::from_hz(200.0));
    encoder
}

fn stretch(
    writer: &mut Writer<Vec<u8>>,
    encoder: &mut Encoder,
    truth: &mut Vec<(f64, f64)>,
    (from, to): (u64, u64),
    clock_us: u64,
) {
    for n in from..to {
        let host_us = n * STEP_US;
        // Each pressure is told apart from the few hundred around it.
        let pa = 100_000.0 + (n % 500) as f64 * 1_000.0;
        let sample = SensorSample {
            tick: host_us + clock_us,
            pressure: Pressure::from_pa(pa),
            temperature: None,
            battery: None,
            status: 0,
        };
        truth.push((host_us as f64 * 1e-6, pa));
        if let Some(hex) = encoder.push(&sample) {
            let from = "stream".to_owned();
            let t_us = host_us;
            writer.packet(&Packet { t_us, from, hex }).unwrap();
        }
    }
}

fn samples(bytes: &[u8]) -> Vec<(f64, f64)> {
    let mut player = Player::open(bytes, Options::default()).unwrap();
    let mut samples = Vec::new();
    loop {
        let more = player.step().unwrap().is_some();
        if !more {
            player.end();
        }
        let fresh = player.pipeline().samples();
        samples.extend(fresh.iter().map(|s| (s.time.s(), s.pressure.pa())));
        if !more {
            return samples;
        }
    }
}

#[test]
fn every_sample_is_where_and_when_it_was_taken() {
    for protocol in ["reference-sensor", "environmental-sensing"] {
        let visit = visit(protocol);
        let found = samples(&visit.bytes);
        assert_eq!(found.len(), visit.truth.len(), "{protocol}");
        for (found, truth) in found.iter().zip(&visit.truth) {
            // Half a step of the sensor's clock, and of its resolution.
            assert!(
                (found.0 - truth.0).abs() < 1e-4,
                "{protocol}: {found:?}, {truth:?}"
            );
            assert!(
                (found.1 - truth.1).abs() < 200.0,
                "{protocol}: {found:?}, {truth:?}"
            );
        }
        assert!(found.is_sorted_by(|a, b| a.0 < b.0), "{protocol}");
    }
}

/// A sensor's clock that runs ahead of the host's must not let time run back.
#[test]
fn time_never_runs_back_where_a_recording_was_resumed() {
    let visit = visit("reference-sensor");
    let text = String::from_utf8(visit.bytes).unwrap();
    let reader = Reader::new(text.as_bytes()).unwrap();
    let mut writer = Writer::begin(Vec::new(), reader.header()).unwrap();
    let hurried = |t_us: u64| t_us / 2;
    for line in reader {
        match line.unwrap().outcome.unwrap() {
            Record::Packet(packet) => {
                let t_us = hurried(packet.t_us);
                writer.packet(&Packet { t_us, ..packet }).unwrap();
            }
            Record::Event(event) => {
                let t_us = hurried(event.t_us);
                writer.event(&TimedEvent { t_us, ..event }).unwrap();
            }
            Record::Header(_) | Record::Seal(_) => {}
        }
    }
    let bytes = writer.seal().unwrap().0;
    let found = samples(&bytes);
    assert_eq!(found.len(), visit.truth.len());
    assert!(found.is_sorted_by(|a, b| a.0 < b.0));
}
