//! A virtual sensor on a hand pump that holds whatever pressure it is asked for: to learn and test
//! the check of a sensor with.

use super::teller::Teller;
use super::{Arrival, Clock, Origin, Pace, Source, TransportError};
use crate::protocol::{Encoder, ProtocolFile, STREAM};
use crate::recording::{Packet, SensorIdentity};
use crate::simulate::Recipe;
use crate::units::{Pressure, Rate};
use futures::future::BoxFuture;
use std::collections::{BTreeMap, VecDeque};
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

/// How fast the pump brings up the pressure, or lets it go, in pascal a second.
const PUMPS_PA_S: f64 = 3e5;

/// Pumps. Does nothing once its sensor is gone.
#[derive(Clone, Debug)]
pub struct PumpHand(UnboundedSender<Pressure>);

impl PumpHand {
    /// From now on this gauge pressure is wanted, and then held.
    pub fn hold(&self, pressure: Pressure) {
        let _ = self.0.send(pressure);
    }
}

/// The virtual sensor.
pub struct PumpSensor {
    origin: Origin,
    wanted: UnboundedReceiver<Pressure>,
    target: f64,
    level: f64,
    ambient: f64,
    teller: Teller,
    encoder: Encoder,
    /// Number of the next sample.
    next: u64,
    /// Ready, their time not yet come.
    held: VecDeque<Packet>,
    pace: Pace,
    clock: Clock,
    last_us: u64,
    stopped: bool,
}

/// Opens the sensor of a recipe at an address, talking as `protocol` says, on a pump that is empty.
pub fn pump(
    recipe: &Recipe,
    address: &str,
    protocol: &ProtocolFile,
    pace: Pace,
) -> (PumpSensor, PumpHand) {
    let (send, wanted) = unbounded_channel();
    let mut encoder =
        Encoder::new(protocol).with_samples_per_packet(recipe.radio.samples_per_packet as usize);
    encoder.set_rate(Rate::from_hz(recipe.sensor.rate_hz));
    let sensor = PumpSensor {
        origin: Origin {
            protocol: protocol.text().to_owned(),
            sensor: SensorIdentity {
                name: recipe.sensor_name.clone(),
                address: address.to_owned(),
                details: BTreeMap::new(),
                correction: None,
            },
            card: None,
            started: None,
        },
        wanted,
        target: 0.0,
        level: 0.0,
        ambient: recipe.surroundings.ambient_kpa * 1e3,
        teller: Teller::new(recipe.sensor, protocol, recipe.seed),
        encoder,
        next: 0,
        held: VecDeque::new(),
        pace,
        clock: Clock::start(),
        last_us: 0,
        stopped: false,
    };
    (sensor, PumpHand(send))
}

impl PumpSensor {
    async fn step(&mut self) -> Result<Option<Arrival>, TransportError> {
        if self.stopped {
            return Ok(None);
        }
        while self.held.is_empty() {
            self.sample();
        }
        let due = self.held.front().map_or(0, |packet| packet.t_us);
        if let Some(speed) = self.pace.speed() {
            self.clock.reach((due as f64 / speed) as u64).await;
        }
        self.last_us = self.last_us.max(due);
        Ok(self.held.pop_front().map(Arrival::Packet))
    }

    /// Takes the next sample; where it fills a message, its packets are held.
    fn sample(&mut self) {
        while let Ok(pressure) = self.wanted.try_recv() {
            self.target = pressure.pa();
        }
        let period = 1.0 / self.teller.rate_hz();
        let step = PUMPS_PA_S * period;
        self.level += (self.target - self.level).clamp(-step, step);
        let time = self.next as f64 * period;
        self.next += 1;
        let sample = self.teller.sample(time, self.level, self.ambient);
        let Some(message) = self.encoder.push(&sample) else {
            return;
        };
        let packet = |hex| Packet {
            t_us: (time * 1e6) as u64,
            from: STREAM.to_owned(),
            hex,
        };
        let packets = self.encoder.packets(message).into_iter();
        self.held.extend(packets.map(packet));
    }
}

impl Source for PumpSensor {
    fn origin(&self) -> &Origin {
        &self.origin
    }

    fn now_us(&self) -> u64 {
        self.clock.now_us().max(self.last_us)
    }

    fn next(&mut self) -> BoxFuture<'_, Result<Option<Arrival>, TransportError>> {
        Box::pin(self.step())
    }

    fn stop(&mut self) -> BoxFuture<'_, Result<(), TransportError>> {
        self.stopped = true;
        Box::pin(std::future::ready(Ok(())))
    }
}
