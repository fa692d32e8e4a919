//! The reference sensor: its services as protocol/reference-sensor.toml describes them, and its
//! firmware.

use crate::peripheral::{Characteristic, Firmware, OnConnect, Peripheral, Service, short};
use needlerest::protocol::{Encoder, ProtocolFile, SensorSample};
use needlerest::units::{Pressure, Rate, Temperature};
use std::time::Duration;

pub const FILE: &str = include_str!("../../protocol/reference-sensor.toml");
pub const SERVICE: &str = "a35430c1-3478-42dd-93a6-67967aa01e94";
pub const STREAM: &str = "a35430c2-3478-42dd-93a6-67967aa01e94";
pub const COMMAND: &str = "a35430c3-3478-42dd-93a6-67967aa01e94";
pub const ADDRESS: &str = "00:AA:01:01:00:01";

/// The sensor as the daemon shows it.
pub fn peripheral() -> Peripheral {
    let plain = |uuid: u16, flags: &[&'static str], value: &[u8]| Characteristic {
        uuid: short(uuid),
        flags: flags.to_vec(),
        value: value.to_vec(),
        descriptors: Vec::new(),
        mtu: 247,
    };
    let mut battery = plain(0x2A19, &["read", "notify"], &[87]);
    // u8, exponent 0, percentage, namespace of the Bluetooth SIG.
    battery
        .descriptors
        .push((short(0x2904), vec![0x04, 0, 0xAD, 0x27, 1, 0, 0]));
    Peripheral {
        address: ADDRESS.to_owned(),
        name: "Needlerest 0042".to_owned(),
        advertises: vec![SERVICE.to_owned()],
        rssi: -58,
        services: vec![
            Service {
                uuid: short(0x180A),
                characteristics: vec![
                    plain(0x2A29, &["read"], b"Marrow Creek Works"),
                    plain(0x2A24, &["read"], b"Shed gauge"),
                    plain(0x2A27, &["read"], b"B"),
                    plain(0x2A25, &["read"], b"MC-0042"),
                    plain(0x2A26, &["read"], b"1.4.0\0"),
                ],
            },
            Service {
                uuid: short(0x180F),
                characteristics: vec![battery],
            },
            Service {
                uuid: SERVICE.to_owned(),
                characteristics: vec![
                    Characteristic {
                        uuid: STREAM.to_owned(),
                        flags: vec!["notify"],
                        value: Vec::new(),
                        descriptors: vec![(short(0x2902), vec![0, 0])],
                        mtu: 247,
                    },
                    Characteristic {
                        uuid: COMMAND.to_owned(),
                        flags: vec!["write"],
                        value: Vec::new(),
                        descriptors: Vec::new(),
                        mtu: 247,
                    },
                ],
            },
        ],
        on_connect: OnConnect::Accept,
        present: true,
    }
}

/// Time at rest after each start, and from stroke to stroke, in seconds.
const AT_REST_S: f64 = 3.0;
const STROKE_S: f64 = 0.3;

/// The firmware: a held pressure that climbs stroke by stroke, as a checked gauge shows it.
pub struct Reference {
    encoder: Encoder,
    rate_hz: f64,
    sample: u64,
    /// Sample at which it was started.
    begun: u64,
    streaming: bool,
    zeroed: bool,
    /// Open to the air, and so much off its zero until it is zeroed.
    off: Option<Pressure>,
}

impl Reference {
    /// Samples at `rate_hz` until commanded otherwise.
    pub fn new(rate_hz: f64) -> Self {
        let file = ProtocolFile::parse(FILE).expect("ships with the program");
        let mut encoder = Encoder::new(&file);
        encoder.set_rate(Rate::from_hz(rate_hz));
        Self {
            encoder,
            rate_hz,
            sample: 0,
            begun: 0,
            streaming: false,
            zeroed: false,
            off: None,
        }
    }

    /// Open to the air, 20 kPa off its zero.
    pub fn at_rest(rate_hz: f64) -> Self {
        Self {
            off: Some(Pressure::from_kpa(20.0)),
            ..Self::new(rate_hz)
        }
    }

    fn pressure(&self) -> Pressure {
        if let Some(off) = self.off {
            return if self.zeroed { Pressure::ZERO } else { off };
        }
        let since_s = (self.sample - self.begun) as f64 / self.rate_hz;
        let stroke = ((since_s - AT_REST_S) / STROKE_S).max(0.0);
        let climbed = stroke.floor() + (stroke.fract() * 4.0).min(1.0);
        let held = 1000.0 * (1.0 - libm::pow(0.5, climbed.min(40.0)));
        Pressure::from_kpa(held)
    }
}

impl Firmware for Reference {
    fn command(&mut self, bytes: &[u8]) -> Result<(), String> {
        match bytes {
            [1] => {
                self.begun = self.sample;
                self.streaming = true;
            }
            [2] => self.streaming = false,
            [3] => self.zeroed = true,
            [4, low, high] => {
                self.rate_hz = f64::from(u16::from_le_bytes([*low, *high]));
                self.encoder.set_rate(Rate::from_hz(self.rate_hz));
            }
            other => return Err(format!("unknown command {other:02x?}")),
        }
        Ok(())
    }

    fn streaming(&self) -> bool {
        self.streaming
    }

    fn disconnected(&mut self) {
        self.streaming = false;
    }

    fn next(&mut self) -> Vec<u8> {
        loop {
            let sample = SensorSample {
                tick: self.sample * self.encoder.interval(),
                pressure: self.pressure(),
                temperature: Some(Temperature::from_celsius(24.0)),
                battery: Some(87.0),
                status: u32::from(self.zeroed) << 4,
            };
            self.sample += 1;
            if let Some(payload) = self.encoder.push(&sample) {
                return payload;
            }
        }
    }

    fn period(&self) -> Duration {
        Duration::from_secs_f64(self.encoder.samples_per_packet() as f64 / self.rate_hz)
    }
}
