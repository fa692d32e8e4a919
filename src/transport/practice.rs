//! A virtual sensor on a simulated engine that is cranked, bled and moved from outside, in its
//! own time: to learn with, and to test with.

use super::teller::Teller;
use super::{Arrival, Clock, Origin, Pace, Source, TransportError};
use crate::engine::Condition;
use crate::leakdown::Stage;
use crate::protocol::{Encoder, ProtocolFile, STREAM};
use crate::recording::{Packet, SensorIdentity};
use crate::simulate::{AirSupply, Machine, Moment, Recipe, RunSpec, Turning};
use crate::units::Rate;
use futures::future::BoxFuture;
use std::collections::VecDeque;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

/// How long a starter, a hand crank or a steady drive turns the engine for one order.
const CRANK_S: f64 = 2.0;
/// How long the bleed valve stays open.
const BLEED_S: f64 = 2.0;
/// A kick that never gets going is over after this long.
const KICK_AT_MOST_S: f64 = 4.0;

/// What engine and sensor are told from outside.
#[derive(Clone, Debug, PartialEq)]
enum Order {
    Fit(String, Condition),
    Kick,
    Bleed,
    Air(Stage),
    ShutOff,
    Charge(f64),
    Status(u32),
}

/// Cranks, bleeds and moves. Does nothing once its source is gone.
#[derive(Clone, Debug)]
pub struct PracticeHand(UnboundedSender<Order>);

impl PracticeHand {
    /// Moves the sensor to this cylinder, in this condition of the engine; a cylinder that the
    /// recipe does not have stands for the next one that it has.
    pub fn fit(&self, cylinder: &str, condition: Condition) {
        let _ = self.0.send(Order::Fit(cylinder.to_owned(), condition));
    }

    /// One kick or pull, or two seconds of cranking.
    pub fn kick(&self) {
        let _ = self.0.send(Order::Kick);
    }

    /// Opens the bleed valve for a while.
    pub fn bleed(&self) {
        let _ = self.0.send(Order::Bleed);
    }

    /// Does this with the air, where there is an air line.
    pub fn air(&self, stage: Stage) {
        let _ = self.0.send(Order::Air(stage));
    }

    /// Shuts the air off and leaves what is filled connected.
    pub fn shut_off(&self) {
        let _ = self.0.send(Order::ShutOff);
    }

    /// From now on the sensor tells this charge of its battery, in percent.
    pub fn charge(&self, percent: f64) {
        let _ = self.0.send(Order::Charge(percent));
    }

    /// From now on the sensor tells these status bits.
    pub fn status(&self, bits: u32) {
        let _ = self.0.send(Order::Status(bits));
    }
}

/// The virtual sensor.
pub struct PracticeSensor {
    origin: Origin,
    recipe: Recipe,
    orders: UnboundedReceiver<Order>,
    bench: Bench,
    encoder: Encoder,
    /// Ready, their time not yet come.
    held: VecDeque<Packet>,
    pace: Pace,
    clock: Clock,
    last_us: u64,
    stopped: bool,
}

/// Opens a virtual sensor that follows `protocol` on the recipe's engine, in real time.
///
/// # Errors
/// When the recipe cannot be simulated.
pub fn practice(
    recipe: Recipe,
    protocol: &ProtocolFile,
) -> Result<(PracticeSensor, PracticeHand), TransportError> {
    practice_on(recipe, protocol, None)
}

/// As [`practice`], on an engine that stands still, with an air line at the plug hole.
///
/// # Errors
/// When the recipe or the supply cannot be simulated.
pub fn practice_with_air(
    recipe: Recipe,
    protocol: &ProtocolFile,
    supply: AirSupply,
) -> Result<(PracticeSensor, PracticeHand), TransportError> {
    practice_on(recipe, protocol, Some(supply))
}

fn practice_on(
    recipe: Recipe,
    protocol: &ProtocolFile,
    supply: Option<AirSupply>,
) -> Result<(PracticeSensor, PracticeHand), TransportError> {
    let (send, orders) = unbounded_channel();
    let spec = recipe.run_spec(0).ok_or_else(|| {
        TransportError::Virtual("the recipe of the practice engine has no run".to_owned())
    })?;
    let mut encoder =
        Encoder::new(protocol).with_samples_per_packet(recipe.radio.samples_per_packet as usize);
    encoder.set_rate(Rate::from_hz(recipe.sensor.rate_hz));
    let sensor = PracticeSensor {
        origin: Origin {
            protocol: protocol.text().to_owned(),
            sensor: SensorIdentity {
                name: recipe.sensor_name.clone(),
                address: "simulated".to_owned(),
                details: std::collections::BTreeMap::new(),
                correction: None,
            },
            card: None,
            started: None,
        },
        bench: Bench::new(&spec, protocol, recipe.seed, supply)?,
        recipe,
        orders,
        encoder,
        held: VecDeque::new(),
        pace: Pace::OwnTime,
        clock: Clock::start(),
        last_us: 0,
        stopped: false,
    };
    Ok((sensor, PracticeHand(send)))
}

impl PracticeSensor {
    /// Goes at another pace. Orders are still taken between two packets.
    #[must_use]
    pub fn at_pace(mut self, pace: Pace) -> Self {
        self.pace = pace;
        self
    }

    async fn step(&mut self) -> Result<Option<Arrival>, TransportError> {
        if self.stopped {
            return Ok(None);
        }
        if self.held.is_empty() {
            self.obey()?;
            let (message, time) = self.bench.message(&mut self.encoder)?;
            let packet = |payload| Packet {
                t_us: (time * 1e6) as u64,
                from: STREAM.to_owned(),
                hex: payload,
            };
            self.held = self
                .encoder
                .packets(message)
                .into_iter()
                .map(packet)
                .collect();
        }
        let due = self.held.front().map_or(0, |packet| packet.t_us);
        if let Some(speed) = self.pace.speed() {
            self.clock.reach((due as f64 / speed) as u64).await;
        }
        self.last_us = self.last_us.max(due);
        Ok(self.held.pop_front().map(Arrival::Packet))
    }

    fn obey(&mut self) -> Result<(), TransportError> {
        while let Ok(order) = self.orders.try_recv() {
            match order {
                Order::Fit(cylinder, condition) => {
                    if let Some(spec) = self.spec(&cylinder, condition) {
                        self.bench.fit(&spec)?;
                    }
                }
                Order::Kick => self.bench.kick(),
                Order::Bleed => self.bench.bleed(),
                Order::Air(stage) => self.bench.machine.direct_air(stage),
                Order::ShutOff => self.bench.machine.shut_off(),
                Order::Charge(percent) => self.bench.teller.battery = percent,
                Order::Status(bits) => self.bench.teller.status = bits,
            }
        }
        Ok(())
    }

    /// The recipe's run for this cylinder and condition. A name that it does not know stands for
    /// a cylinder by the number in it.
    fn spec(&self, cylinder: &str, condition: Condition) -> Option<RunSpec> {
        let runs = || {
            let runs = self.recipe.runs.iter().enumerate();
            runs.filter(move |(_, run)| run.condition == condition)
        };
        let by_name = runs().find(|(_, run)| run.cylinder == cylinder);
        let number: usize = cylinder
            .chars()
            .filter(char::is_ascii_digit)
            .collect::<String>()
            .parse()
            .unwrap_or(1);
        let nth = number.saturating_sub(1).checked_rem(runs().count())?;
        let (index, _) = by_name.or_else(|| runs().nth(nth))?;
        self.recipe.run_spec(index)
    }
}

impl Source for PracticeSensor {
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

/// The engine on the bench: cylinder after cylinder on one clock.
struct Bench {
    machine: Machine,
    /// The air line in place of a tester, if there is one.
    supply: Option<AirSupply>,
    /// When this machine was put up, in seconds.
    since: f64,
    /// Time and gauge pressure (Pa) of the last step.
    last: (f64, f64),
    /// Number of the next sample.
    next: u64,
    teller: Teller,
    /// Kicks or pulls, not steady cranking.
    bursts: bool,
    crank: Crank,
    bleed_until: f64,
}

/// What the orders have come to.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Crank {
    Still,
    /// A starter or a hand crank turns until then.
    Turning(f64),
    /// A kick or pull: whether it has got going, and when it is given up.
    Kicking(bool, f64),
}

impl Bench {
    fn new(
        spec: &RunSpec,
        protocol: &ProtocolFile,
        seed: u64,
        supply: Option<AirSupply>,
    ) -> Result<Self, TransportError> {
        Ok(Self {
            machine: machine(spec, supply.as_ref())?,
            supply,
            since: 0.0,
            last: (0.0, 0.0),
            next: 0,
            teller: Teller::new(spec.sensor, protocol, seed),
            bursts: matches!(spec.turning, Turning::Kick(_) | Turning::PullCord(_)),
            crank: Crank::Still,
            bleed_until: 0.0,
        })
    }

    fn fit(&mut self, spec: &RunSpec) -> Result<(), TransportError> {
        self.since += self.machine.time();
        self.machine = machine(spec, self.supply.as_ref())?;
        self.crank = Crank::Still;
        Ok(())
    }

    fn now(&self) -> f64 {
        self.since + self.machine.time()
    }

    fn kick(&mut self) {
        let now = self.now();
        self.machine.crank(true);
        self.crank = match (self.bursts, self.crank) {
            (true, Crank::Kicking(..)) => self.crank,
            (true, _) => Crank::Kicking(false, now + KICK_AT_MOST_S),
            (false, _) => Crank::Turning(now + CRANK_S),
        };
    }

    fn bleed(&mut self) {
        self.machine.bleed(true);
        self.bleed_until = self.now() + BLEED_S;
    }

    /// Ends what has gone on long enough.
    fn hands_off(&mut self) {
        let now = self.now();
        self.crank = match self.crank {
            Crank::Turning(until) | Crank::Kicking(_, until) if now >= until => Crank::Still,
            Crank::Kicking(_, until) if self.machine.pushing() => Crank::Kicking(true, until),
            Crank::Kicking(true, _) => Crank::Still,
            going => going,
        };
        if self.crank == Crank::Still {
            self.machine.crank(false);
        }
        if self.bleed_until > 0.0 && now >= self.bleed_until {
            self.bleed_until = 0.0;
            self.machine.bleed(false);
        }
    }

    /// Runs until a message is full; gives it and the time of its last sample in seconds.
    fn message(&mut self, encoder: &mut Encoder) -> Result<(Vec<u8>, f64), TransportError> {
        loop {
            self.hands_off();
            let moment = self.machine.advance().map_err(|error| failed(&error))?;
            let now = (self.since + moment.time, self.gauge(&moment));
            let before = std::mem::replace(&mut self.last, now);
            let rate_hz = self.teller.rate_hz();
            while self.next as f64 / rate_hz <= now.0 {
                let time = self.next as f64 / rate_hz;
                let gauge = between(before, now, time);
                let sample = self.teller.sample(time, gauge, self.machine.ambient());
                self.next += 1;
                if let Some(message) = encoder.push(&sample) {
                    return Ok((message, time));
                }
            }
        }
    }

    fn gauge(&self, moment: &Moment) -> f64 {
        moment.tester - self.machine.ambient()
    }
}

fn between(before: (f64, f64), now: (f64, f64), time: f64) -> f64 {
    let length = now.0 - before.0;
    if length <= 0.0 {
        return now.1;
    }
    before.1 + (now.1 - before.1) * ((time - before.0) / length).clamp(0.0, 1.0)
}

fn machine(spec: &RunSpec, supply: Option<&AirSupply>) -> Result<Machine, TransportError> {
    let made = match supply {
        Some(supply) => Machine::with_air(spec, supply),
        None => Machine::new(spec),
    };
    made.map_err(|error| failed(&error))
}

fn failed(error: &crate::simulate::SimulateError) -> TransportError {
    TransportError::Virtual(error.to_string())
}
