//! A test with air in a recipe: made as somebody makes it who does as the program says.

use super::SimulateError;
use super::airline::AirSupply;
use super::machine::Machine;
use super::recipe::{PlannedRun, Recipe};
use super::sensor::{Sample, Sampler};
use super::spec::{RunSpec, one};
use crate::engine::Condition;
use crate::leakdown::{Filled, Place, Restrictor, Stage};
use crate::recording::{Event, TimedEvent};
use crate::units::Time;
use serde::{Deserialize, Serialize};
use std::f64::consts::FRAC_PI_4;

/// Draws of tests with air are apart from those of runs.
const STREAM: u64 = 1000;
/// How long nothing is under pressure, at the beginning (s).
const QUIET_S: f64 = 2.5;
/// How long the supply is read (s).
const SUPPLY_S: f64 = 6.0;
/// From saying so until the cylinder's side is open (s).
const OPENS_S: f64 = 1.0;
/// How long what the cylinder holds is read (s); then it is said where air is heard.
const HELD_S: f64 = 9.0;
/// How long it takes to fill a tester or a cylinder, and how long its fall is watched (s).
const FILL_S: f64 = 4.0;
const FALL_S: f64 = 20.0;
/// How long hose and cylinder take to empty (s).
const EMPTY_S: f64 = 3.0;

/// What is tested.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AirTestKind {
    /// A leak-down test of a cylinder.
    LeakDown,
    /// The tester alone is filled and shut off.
    DecayTester,
    /// A cylinder is filled and shut off.
    DecayCylinder,
}

/// A test with air in a recipe.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedAirTest {
    /// What is tested.
    pub test: AirTestKind,
    /// So many runs come before it; otherwise all of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub after_run: Option<usize>,
    /// The cylinder at whose hole the tester is.
    pub cylinder: String,
    /// The engine's condition.
    #[serde(default = "cold")]
    pub condition: Condition,
    /// Temperature of the cylinder's walls.
    pub wall_celsius: f64,
    /// Diameter of the restrictor as the user says it; the true one is in `[air]`.
    #[serde(default = "one")]
    pub restrictor_mm: f64,
    /// What is filled, in cm³, as the user says it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub volume_cm3: Option<f64>,
    /// Where the user hears air, the loudest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub heard: Vec<Place>,
    /// Nobody holds the crank: so long after the cylinder is opened it is let go, and how far off the
    /// top it stands then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub let_go: Option<LetGo>,
}

/// The crank is let go.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LetGo {
    /// So long after the cylinder is opened.
    pub after_s: f64,
    /// So far past the top.
    pub past_top_deg: f64,
}

const fn cold() -> Condition {
    Condition::ColdDry
}

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
    /// Its run, complete by itself; nobody cranks in it.
    pub(super) fn spec(&self, recipe: &Recipe, number: usize) -> RunSpec {
        let run = PlannedRun {
            cylinder: self.cylinder.clone(),
            condition: self.condition,
            wall_celsius: self.wall_celsius,
            oil: None,
            throttle: 1.0,
            strokes: None,
            turning: None,
            void: None,
            note: None,
        };
        recipe.complete(&run, STREAM + number as u64)
    }

    /// The air line: the recipe's, or a usual one.
    pub(super) fn supply(&self, recipe: &Recipe) -> AirSupply {
        recipe
            .air
            .unwrap_or_else(|| AirSupply::usual(self.restrictor()))
    }

    fn restrictor(&self) -> Restrictor {
        Restrictor {
            diameter_mm: self.restrictor_mm,
            ..Restrictor::default()
        }
    }

    /// # Errors
    /// When it is impossible; the error names the field.
    pub(super) fn check(&self, recipe: &Recipe, number: usize) -> Result<(), SimulateError> {
        let refuse = |field: &'static str, why: String| Err(SimulateError::impossible(field, why));
        if !self.restrictor().is_sound() {
            let why = format!("a restrictor of {} mm cannot be", self.restrictor_mm);
            return refuse("air_test.restrictor_mm", why);
        }
        let runs = recipe.runs.len();
        if let Some(after) = self.after_run.filter(|after| *after > runs) {
            let why = format!("run {after} is not there: the recipe has {runs}");
            return refuse("air_test.after_run", why);
        }
        if let Some(cm3) = self
            .volume_cm3
            .filter(|cm3| !(0.5..=10_000.0).contains(cm3))
        {
            let why = format!("{cm3} is not between 0.5 and 10000");
            return refuse("air_test.volume_cm3", why);
        }
        if let Some(let_go) = self.let_go {
            let (after, past) = (let_go.after_s, let_go.past_top_deg);
            if !(0.0..=HELD_S).contains(&after) || !(-30.0..=30.0).contains(&past) {
                let why = format!("{after} s and {past}° are not within 0 to {HELD_S} s and ± 30°");
                return refuse("air_test.let_go", why);
            }
        }
        super::with_air::check(&self.supply(recipe))?;
        super::check::run(&self.spec(recipe, number))
    }

    fn begins(&self) -> Event {
        let filled = match self.test {
            AirTestKind::LeakDown => {
                return Event::LeakDown {
                    cylinder: self.cylinder.clone(),
                    condition: self.condition,
                    restrictor: self.restrictor(),
                };
            }
            AirTestKind::DecayTester => Filled::Tester,
            AirTestKind::DecayCylinder => Filled::Cylinder,
        };
        Event::Decay {
            filled,
            cylinder: (filled == Filled::Cylinder).then(|| self.cylinder.clone()),
            volume_cm3: self.volume_cm3,
        }
    }

    /// Makes it from `start` (s) on the sampler's clock.
    pub(super) fn make(
        &self,
        recipe: &Recipe,
        number: usize,
        start: f64,
        sampler: &mut Sampler,
        samples: &mut Vec<Sample>,
    ) -> Result<MadeAirTest, SimulateError> {
        let spec = self.spec(recipe, number);
        let supply = self.supply(recipe);
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
        let before = self.let_go.map_or(HELD_S, |let_go| let_go.after_s);
        bench.pass(before)?;
        if let Some(let_go) = self.let_go {
            bench.pushed_off = true;
            bench.machine.let_go(let_go.past_top_deg.to_radians());
            bench.pass(HELD_S - before)?;
        }
        if !self.heard.is_empty() {
            let places = self.heard.clone();
            bench.happens(Event::Heard { places });
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
        let own: f64 = cylinders
            .map(|c| c.ring_leak_mm2 + c.intake_leak_mm2 + c.exhaust_leak_mm2)
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
