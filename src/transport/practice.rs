//! A virtual sensor on a simulated engine that is cranked, bled and moved from outside, in its
//! own time: to learn with, and to test with.

use super::teller::Teller;
use super::{Arrival, Clock, Origin, Pace, Source, TransportError};
use crate::engine::Condition;
use crate::leakdown::{Filled, Restrictor, Stage};
use crate::protocol::{Encoder, ProtocolFile, STREAM};
use crate::recording::{Event, Packet, SensorIdentity};
use crate::simulate::{AirSupply, Machine, Moment, Recipe, RunSpec, SimulateError, Turning};
use crate::units::Rate;
use futures::future::BoxFuture;
use std::collections::VecDeque;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender, unbounded_channel};

/// How long a starter, a hand crank or a steady drive turns the engine for one order.
const CRANK_S: f64 = 2.0;
/// How long the bleed valve stays open.
const BLEED_S: f64 = 2.0;
/// Whoever fills a tester or a cylinder begins so long after being asked to.
const FILLS_AFTER_S: f64 = 2.5;
/// A kick that never gets going is over after this long.
const KICK_AT_MOST_S: f64 = 4.0;

/// What engine and sensor are told from outside.
#[derive(Clone, Debug, PartialEq)]
enum Order {
    Fit(String, Condition),
    Kick,
    Bleed,
    Air(Box<Event>),
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

    /// Does with an air line what this event of a test with air says; nothing for any other event.
    pub fn air(&self, event: &Event) {
        let of_air = matches!(
            event,
            Event::LeakDown { .. } | Event::Decay { .. } | Event::Air { .. }
        );
        if of_air {
            let _ = self.0.send(Order::Air(Box::new(event.clone())));
        }
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
        bench: Bench::new(&spec, protocol, recipe.seed)?,
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
                Order::Air(event) => self.air(&event)?,
                Order::Charge(percent) => self.bench.teller.battery = percent,
                Order::Status(bits) => self.bench.teller.status = bits,
            }
        }
        Ok(())
    }

    /// What a person would do at a real air line.
    fn air(&mut self, event: &Event) -> Result<(), TransportError> {
        match event {
            Event::LeakDown {
                cylinder,
                condition,
                restrictor,
            } => self.fit_air(cylinder, *condition, *restrictor, None),
            Event::Decay {
                filled, cylinder, ..
            } => {
                let cylinder = cylinder.as_deref().unwrap_or_default();
                let restrictor = Restrictor::default();
                self.fit_air(cylinder, Condition::ColdDry, restrictor, Some(*filled))
            }
            Event::Air { stage } => {
                self.bench.direct_air(*stage);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    fn fit_air(
        &mut self,
        cylinder: &str,
        condition: Condition,
        restrictor: Restrictor,
        filled: Option<Filled>,
    ) -> Result<(), TransportError> {
        let runs = &self.recipe.runs;
        let by_name = || runs.iter().position(|run| run.cylinder == cylinder);
        let spec = self.spec(cylinder, condition);
        let spec = spec.or_else(|| self.recipe.run_spec(by_name().unwrap_or(0)));
        let Some(spec) = spec else { return Ok(()) };
        let supply = self
            .recipe
            .air
            .unwrap_or_else(|| AirSupply::usual(restrictor));
        self.bench.fit_air(&spec, &supply, filled)
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
    /// What a decay test fills and from when on, until it is shut off.
    fills: Option<(Filled, f64)>,
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
    fn new(spec: &RunSpec, protocol: &ProtocolFile, seed: u64) -> Result<Self, TransportError> {
        Ok(Self {
            machine: Machine::new(spec).map_err(|error| failed(&error))?,
            fills: None,
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
        self.put_up(Machine::new(spec))
    }

    /// The crank held at the top, an air line in the tester's place; a decay test fills something
    /// from its beginning.
    fn fit_air(
        &mut self,
        spec: &RunSpec,
        supply: &AirSupply,
        filled: Option<Filled>,
    ) -> Result<(), TransportError> {
        self.put_up(Machine::with_air(spec, supply))?;
        self.fills = filled.map(|filled| (filled, self.now() + FILLS_AFTER_S));
        Ok(())
    }

    fn put_up(&mut self, machine: Result<Machine, SimulateError>) -> Result<(), TransportError> {
        let machine = machine.map_err(|error| failed(&error))?;
        self.since += self.machine.time();
        self.machine = machine;
        self.crank = Crank::Still;
        self.fills = None;
        Ok(())
    }

    fn direct_air(&mut self, stage: Stage) {
        match (stage, self.fills.take()) {
            (Stage::Shut, Some(_)) => self.machine.shut_off(),
            (Stage::Shut, None) => self.machine.vent(),
            (stage, _) => self.machine.direct_air(stage),
        }
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

    /// Begins what is due, ends what has gone on long enough.
    fn hands_off(&mut self) {
        let now = self.now();
        if let Some((filled, _)) = self.fills.filter(|(_, at)| now >= *at) {
            self.machine.direct_air(match filled {
                Filled::Tester => Stage::Supply,
                Filled::Cylinder => Stage::Top,
            });
            self.fills = Some((filled, f64::INFINITY));
        }
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

fn failed(error: &SimulateError) -> TransportError {
    TransportError::Virtual(error.to_string())
}
