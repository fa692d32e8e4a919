//! Recordings made sample by sample, for what a simulator would never make.

use needlerest::engine::Condition;
use needlerest::protocol::{Encoder, ProtocolFile, STREAM, SensorSample};
use needlerest::recording::{Event, Header, Packet, SensorIdentity, TimedEvent, Writer};
use needlerest::units::Pressure;

/// The reference sensor's protocol file.
pub const REFERENCE: &str = include_str!("../../protocol/reference-sensor.toml");
/// Samples a second of every tape.
const RATE_HZ: u64 = 500;

/// A recording in the making.
pub struct Tape {
    writer: Writer<Vec<u8>>,
    encoder: Encoder,
    sample: u64,
}

impl Tape {
    /// A tape of the reference sensor.
    pub fn new(card: Option<&str>) -> Self {
        Self::of_version(needlerest::recording::VERSION, card)
    }

    /// A tape that says it is of another version of the format.
    pub fn of_version(version: u32, card: Option<&str>) -> Self {
        let header = Header {
            format: needlerest::recording::FORMAT.to_owned(),
            version,
            tool: "0.1.0".to_owned(),
            started: "2026-05-02T09:00:00Z".to_owned(),
            protocol: REFERENCE.to_owned(),
            sensor: SensorIdentity {
                name: "Needlerest test".to_owned(),
                ..Default::default()
            },
            card: card.map(str::to_owned),
        };
        let protocol = ProtocolFile::parse(REFERENCE).expect("the shipped file is sound");
        Self {
            writer: Writer::begin(Vec::new(), &header).expect("memory takes it"),
            encoder: Encoder::new(&protocol),
            sample: 0,
        }
    }

    fn now_us(&self) -> u64 {
        self.sample * 1_000_000 / RATE_HZ
    }

    /// Records a pressure in kPa for so many seconds; `level` is given the time since it began.
    pub fn play(mut self, seconds: f64, level: impl Fn(f64) -> f64) -> Self {
        let samples = (seconds * RATE_HZ as f64) as u64;
        for n in 0..samples {
            let t = n as f64 / RATE_HZ as f64;
            // A quarter of a kilopascal to and fro stands for noise.
            let noise = 0.25 * f64::from(u8::from(n % 3 == 0)) - 0.1;
            let sample = SensorSample {
                tick: self.now_us(),
                pressure: Pressure::from_kpa(level(t) + noise),
                temperature: None,
                battery: Some(80.0),
                status: 0,
            };
            if let Some(payload) = self.encoder.push(&sample) {
                let packet = Packet {
                    t_us: self.now_us(),
                    from: STREAM.to_owned(),
                    hex: payload,
                };
                self.writer.packet(&packet).expect("memory takes it");
            }
            self.sample += 1;
        }
        self
    }

    /// Steps of a holding rig towards `plateau` kPa, every 0.4 s.
    pub fn strokes(self, plateau: f64, strokes: u32) -> Self {
        let level = move |t: f64| {
            let made = (t / 0.4).floor() + 1.0;
            plateau * (1.0 - libm::pow(0.35, made))
        };
        self.play(0.4 * f64::from(strokes), level)
    }

    /// Nothing on the sensor.
    pub fn rest(self, seconds: f64) -> Self {
        self.play(seconds, |_| 0.0)
    }

    /// A level that is held.
    pub fn hold(self, level: f64, seconds: f64) -> Self {
        self.play(seconds, move |_| level)
    }

    /// An event.
    pub fn event(mut self, event: Event) -> Self {
        let t_us = self.now_us();
        self.writer
            .event(&TimedEvent { t_us, event })
            .expect("memory takes it");
        self
    }

    /// Announces a run.
    pub fn run(self, cylinder: &str, condition: Condition) -> Self {
        self.event(Event::Run {
            cylinder: cylinder.to_owned(),
            condition,
        })
    }

    /// The sealed recording.
    pub fn seal(self) -> Vec<u8> {
        self.writer.seal().expect("memory takes it").0
    }
}

/// One settled run and a bleed.
pub fn settled_run(tape: Tape, plateau: f64) -> Tape {
    tape.rest(2.0)
        .strokes(plateau, 9)
        .hold(plateau, 3.0)
        .rest(1.5)
}
