//! A leak-down test in a recording: through the pipeline, into findings, and told in the report.

use needlerest::engine::Condition;
use needlerest::leakdown::{AirTest, Place, Stage};
use needlerest::pipeline::{self, Analysis, Options};
use needlerest::protocol::{Encoder, ProtocolFile, STREAM, SensorSample};
use needlerest::recording::{
    Event, FORMAT, Header, Packet, SensorIdentity, TimedEvent, VERSION, Writer,
};
use needlerest::report::{self, Units};
use needlerest::units::{Pressure, PressureUnit, Rate};

const PROTOCOL: &str = include_str!("../../protocol/reference-sensor.toml");

struct Tape {
    writer: Writer<Vec<u8>>,
    encoder: Encoder,
    tick: u64,
    step: u64,
    tick_us: f64,
}

impl Tape {
    fn new() -> Self {
        let file = ProtocolFile::parse(PROTOCOL).expect("the protocol file");
        let header = Header {
            format: FORMAT.to_owned(),
            version: VERSION,
            tool: "test".to_owned(),
            started: "2026-05-09T08:30:00Z".to_owned(),
            protocol: PROTOCOL.to_owned(),
            sensor: SensorIdentity::default(),
            card: None,
        };
        let mut encoder = Encoder::new(&file);
        encoder.set_rate(Rate::from_hz(100.0));
        Self {
            writer: Writer::begin(Vec::new(), &header).expect("a header"),
            step: encoder.interval(),
            encoder,
            tick: 0,
            tick_us: file.tick_us().expect("ticks"),
        }
    }

    fn now_us(&self) -> u64 {
        (self.tick as f64 * self.tick_us) as u64
    }

    fn event(&mut self, event: Event) {
        let t_us = self.now_us();
        self.writer
            .event(&TimedEvent { t_us, event })
            .expect("written");
    }

    /// So many samples of 10 ms at pressures in kPa.
    fn pass(&mut self, samples: u32, kpa: impl Fn(f64) -> f64) {
        for n in 0..samples {
            self.tick += self.step;
            let sample = SensorSample {
                tick: self.tick,
                pressure: Pressure::from_kpa(kpa(0.01 * f64::from(n))),
                temperature: None,
                battery: None,
                status: 0,
            };
            let Some(message) = self.encoder.push(&sample) else {
                continue;
            };
            for hex in self.encoder.packets(message) {
                let packet = Packet {
                    t_us: self.now_us(),
                    from: STREAM.to_owned(),
                    hex,
                };
                self.writer.packet(&packet).expect("written");
            }
        }
    }
}

/// 552 kPa in, 414 held, heard at the exhaust; then the air is let off.
fn analysed() -> Analysis {
    let mut tape = Tape::new();
    tape.pass(100, |_| 0.0);
    tape.event(Event::LeakDown {
        cylinder: "2".to_owned(),
        condition: Condition::ColdDry,
        restrictor: "1.0 mm".parse().expect("a restrictor"),
    });
    tape.pass(100, |_| 0.0);
    tape.event(Event::Air {
        stage: Stage::Supply,
    });
    tape.pass(400, |_| 552.0);
    tape.event(Event::Air { stage: Stage::Top });
    tape.pass(600, |t| 414.0 * (1.0 - libm::exp(-4.0 * t)));
    tape.event(Event::Heard {
        places: vec![Place::Exhaust],
    });
    tape.event(Event::Air { stage: Stage::Shut });
    tape.pass(100, |t| 414.0 * libm::exp(-4.0 * t));
    tape.event(Event::End);
    tape.pass(100, |_| 0.0);
    let (bytes, _) = tape.writer.seal().expect("sealed");
    pipeline::analyse(bytes.as_slice(), Options::default()).expect("a recording")
}

#[test]
fn it_is_found_again_and_is_no_run() {
    let findings = analysed().findings;
    assert_eq!(findings.runs.len(), 0, "air is no cranking");
    assert_eq!(findings.recording.damaged_lines, 0);
    let [test @ AirTest::LeakDown { heard, .. }] = &findings.air[..] else {
        panic!("one leak-down test: {:?}", findings.air);
    };
    assert_eq!(heard, &[Place::Exhaust]);
    let loss = test.at_top().expect("held").loss;
    assert!((loss - 0.25).abs() < 0.003, "{loss}");
}

/// The findings go through JSON and back unchanged; the report tells the test.
#[test]
fn it_is_told_and_survives_json() {
    let analysis = analysed();
    let json = report::json(&analysis.findings).expect("JSON");
    let read: pipeline::Findings = serde_json::from_str(&json).expect("findings");
    assert_eq!(read, analysis.findings);
    let units = Units {
        main: PressureUnit::KPa,
        also: None,
    };
    let text = report::text(&analysis.findings, units, 100);
    assert!(
        text.contains("Tests with air") && text.contains("552/414 kPa"),
        "{text}"
    );
    assert!(text.contains("Air is heard at the exhaust."), "{text}");
    let made = report::outputs(&analysis.findings, &analysis.traces, units).expect("outputs");
    let page = made
        .iter()
        .find(|one| one.name == report::PAGE)
        .expect("a page");
    let page = String::from_utf8_lossy(&page.bytes).replace("&#x2f;", "/");
    assert!(page.contains("Tests with air") && page.contains("552/414\u{a0}kPa"));
}
