//! A test with air of a recipe is made, as somebody makes it who does as the program says.

use super::SimulateError;
use super::air_plan::{AirTestKind, PlannedAirTest, READ_S};
use super::machine::Machine;
use super::recipe::Recipe;
use super::sensor::{Sample, Sampler};
use super::spec::{Cylinder, RunSpec};
use crate::leakdown::Stage;
use crate::recording::{Event, TimedEvent};
use crate::units::Time;
use serde::{Deserialize, Serialize};
use std::f64::consts::FRAC_PI_4;

/// How long nothing is under pressure, at the beginning (s).
const QUIET_S: f64 = 2.5;
/// How long the supply is read (s).
const SUPPLY_S: f64 = 6.0;
/// From saying so until the cylinder's side is open (s).
const OPENS_S: f64 = 1.0;
/// From a valve being turned to saying so, and how long a side is read in a round (s).
const SAYS_S: f64 = 0.3;
const IN_ROUND_S: f64 = 5.0;
/// How long it takes to fill a tester or a cylinder, and how long its fall is watched (s).
const FILL_S: f64 = 4.0;
const FALL_S: f64 = 20.0;
/// How long hose and cylinder take to empty (s).
const EMPTY_S: f64 = 3.0;

/// What was true in a test with air. Times are from the start of the recording.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct AirTruth {
    /// What was tested.
    pub test: AirTestKind,
    /// The cylinder at whose hole the tester was.
    pub cylinder: String,
    /// The test begins.
    #[serde(rename = "begins_s")]
    pub begins: Time,
    /// The test ends.
    #[serde(rename = "ends_s")]
    pub ends: Time,
    /// Effective area of all that leaks behind the restrictor, or out of what is filled, in mm².
    pub leak_mm2: f64,
    /// Effective area of the restrictor in mm².
    pub restrictor_mm2: f64,
    /// The air turned the crank.
    pub pushed_off: bool,
}

/// A test that was made: what was true, and what the user did.
pub(super) struct MadeAirTest {
    pub(super) truth: AirTruth,
    pub(super) events: Vec<TimedEvent>,
}

impl PlannedAirTest {
    /// Makes it from `start` (s) on the sampler's clock.
    pub(super) fn make(
        &self,
        recipe: &Recipe,
        number: usize,
        start: f64,
        sampler: &mut Sampler,
        samples: &mut Vec<Sample>,
    ) -> Result<MadeAirTest, SimulateError> {
        let spec = recipe.air_spec(self, number);
        let supply = recipe.air_supply(self);
        let mut bench = Bench {
            machine: Machine::with_air(&spec, &supply)?,
            start,
            sampler,
            samples,
            events: Vec::new(),
            pushed_off: false,
        };
        bench.happens(self.begins());
        bench.pass(QUIET_S)?;
        match self.test {
            AirTestKind::LeakDown => self.leak_down(&mut bench)?,
            AirTestKind::DecayTester => bench.decay(Stage::Supply)?,
            AirTestKind::DecayCylinder => bench.decay(Stage::Top)?,
        }
        bench.machine.vent();
        bench.pass(EMPTY_S)?;
        bench.happens(Event::End);
        let ends = bench.now();
        let area = FRAC_PI_4 * supply.restrictor_mm * supply.restrictor_mm;
        Ok(MadeAirTest {
            truth: AirTruth {
                test: self.test,
                cylinder: self.cylinder.clone(),
                begins: Time::from_s(start),
                ends: Time::from_s(ends),
                leak_mm2: self.leak_mm2(&spec),
                restrictor_mm2: supply.coefficient * area,
                pushed_off: bench.pushed_off,
            },
            events: bench.events,
        })
    }

    fn leak_down(&self, bench: &mut Bench<'_>) -> Result<(), SimulateError> {
        bench.stage(Stage::Supply, SUPPLY_S)?;
        bench.happens(Event::Air { stage: Stage::Top });
        bench.pass(OPENS_S)?;
        bench.machine.direct_air(Stage::Top);
        let before = self.let_go.map_or(READ_S, |let_go| let_go.after_s);
        bench.pass(before)?;
        if let Some(let_go) = self.let_go {
            bench.pushed_off = true;
            bench.machine.let_go(let_go.past_top_deg.to_radians());
            bench.pass(READ_S - before)?;
        }
        if !self.heard.is_empty() {
            let places = self.heard.clone();
            bench.happens(Event::Heard { places });
        }
        if self.rounds > 0 {
            bench.turn(Stage::Supply)?;
        }
        for _ in 1..self.rounds {
            bench.turn(Stage::Top)?;
            bench.turn(Stage::Supply)?;
        }
        bench.happens(Event::Air { stage: Stage::Shut });
        bench.machine.vent();
        bench.pass(EMPTY_S)?;
        bench.stage(Stage::Supply, SUPPLY_S)?;
        bench.happens(Event::Air { stage: Stage::Shut });
        Ok(())
    }

    fn leak_mm2(&self, spec: &RunSpec) -> f64 {
        let engine = &spec.engine;
        let cylinders = engine.cylinders.iter().filter(|c| c.name == self.cylinder);
        // Of a two-stroke that is where its opened crankcase leaks to.
        let intake = |c: &Cylinder| match engine.ports {
            Some(_) => 0.0,
            None => c.intake_leak_mm2,
        };
        let own: f64 = cylinders
            .map(|c| c.ring_leak_mm2 + intake(c) + c.exhaust_leak_mm2)
            .sum();
        let gaskets = engine.gaskets.iter();
        let gaskets = gaskets.filter(|gasket| gasket.between.contains(&self.cylinder));
        let gaskets: f64 = gaskets.map(|gasket| gasket.leak_mm2).sum();
        match self.test {
            AirTestKind::DecayTester => spec.tester.leak_mm2,
            _ => own + gaskets + spec.tester.leak_mm2,
        }
    }
}

/// The engine on its air line, and who writes down what is done.
struct Bench<'a> {
    machine: Machine,
    start: f64,
    sampler: &'a mut Sampler,
    samples: &'a mut Vec<Sample>,
    events: Vec<TimedEvent>,
    pushed_off: bool,
}

impl Bench<'_> {
    fn now(&self) -> f64 {
        self.start + self.machine.time()
    }

    fn happens(&mut self, event: Event) {
        self.events.push(TimedEvent {
            t_us: (self.now() * 1e6).round() as u64,
            event,
        });
    }

    fn pass(&mut self, seconds: f64) -> Result<(), SimulateError> {
        let until = self.machine.time() + seconds;
        while self.machine.time() < until {
            let moment = self.machine.advance()?;
            let gauge = moment.tester - self.machine.ambient();
            self.sampler
                .feed(self.start + moment.time, gauge, self.samples);
        }
        Ok(())
    }

    fn stage(&mut self, stage: Stage, seconds: f64) -> Result<(), SimulateError> {
        self.happens(Event::Air { stage });
        self.machine.direct_air(stage);
        self.pass(seconds)
    }

    /// Half a round: the valve is asked for, turned, and that said.
    fn turn(&mut self, stage: Stage) -> Result<(), SimulateError> {
        self.happens(Event::Air { stage });
        self.pass(OPENS_S)?;
        self.machine.direct_air(stage);
        self.pass(SAYS_S)?;
        self.happens(Event::Air { stage });
        self.pass(IN_ROUND_S)
    }

    fn decay(&mut self, filled_at: Stage) -> Result<(), SimulateError> {
        self.machine.direct_air(filled_at);
        self.pass(FILL_S)?;
        self.happens(Event::Air { stage: Stage::Shut });
        self.machine.shut_off();
        self.pass(FALL_S)?;
        self.happens(Event::Air { stage: Stage::Shut });
        Ok(())
    }
}
