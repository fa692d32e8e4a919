//! Whoever makes a leak-down test does what the program asks for, and nothing else: goes the way of
//! [`AirSteps`], turns what is to be turned, each in a person's time, and listens where the air goes.

use crate::draws::Draws;
use needlerest::engine::{Condition, JobCard};
use needlerest::leakdown::{AirTest, Place, Restrictor, Settings, Stage, Told, Watch};
use needlerest::session::{AirAnswer, AirEngine, AirSteps, AirTask, Entry};
use needlerest::signal;
use needlerest::simulate::{AirBench, AirSupply, RunSpec, SimulateError};
use needlerest::units::{Pressure, Temperature, Time};

/// Longest wait for a call and for what is read after it, s.
const PATIENCE_S: f64 = 18.0;
/// From a valve being turned to saying so, s.
const SAYS_S: f64 = 0.3;
/// Standard spread of a restrictor's coefficient and diameter about what is said of it.
const COEFFICIENT: (f64, f64) = (0.85, 0.03);
const DIAMETER: f64 = 0.01;
/// Restrictors, mm.
pub const RESTRICTORS_MM: [f64; 5] = [0.5, 0.75, 1.0, 1.25, 1.5];

/// How a test is made.
pub struct Plan {
    pub restrictor_mm: f64,
    pub supply: AirSupply,
    /// When the crank is let go (s after the cylinder is opened), and how far off the top.
    pub let_go: Option<(f64, f64)>,
    /// From "connected" to the valve being open, s.
    pub opens_after_s: f64,
    /// How long the piston is turned to the top while the supply is read, how long it is listened for
    /// where the air goes, and how long hose and cylinder take to empty, s.
    pub turns_s: f64,
    pub listens_s: f64,
    pub empties_s: f64,
}

/// A plan; the supply wobbles by up to 2 % to either side.
pub fn plan(d: &mut Draws, restrictor_mm: f64, pushed: bool) -> Plan {
    let true_mm = restrictor_mm * (1.0 + DIAMETER * d.normal());
    let supply = AirSupply {
        supply_kpa: d.between(520.0, 700.0),
        wobble: d.between(0.0, 0.02),
        cycle_s: d.between(15.0, 60.0),
        noise: d.between(0.0, 0.004),
        restrictor_mm: true_mm,
        coefficient: COEFFICIENT.0 + COEFFICIENT.1 * d.normal(),
        hose_cm3: d.between(10.0, 60.0),
    };
    Plan {
        restrictor_mm,
        supply,
        let_go: pushed.then(|| (d.between(0.1, 5.0), d.between(0.05, 0.2))),
        opens_after_s: d.between(0.3, 2.5),
        turns_s: d.between(8.0, 25.0),
        listens_s: d.between(6.0, 20.0),
        empties_s: d.between(2.0, 8.0),
    }
}

/// A test as it was made.
pub struct Made {
    pub test: AirTest,
    /// From the valve being open to the call, s.
    pub called_after_s: Option<f64>,
    /// The air turned the crank, by more than 30 degrees.
    pub turned: bool,
    /// So many times both sides were read in turn.
    pub rounds: usize,
    /// How long it took, s.
    pub took_s: f64,
}

/// Makes a leak-down test of the cylinder of a run.
pub fn make(
    spec: &RunSpec,
    card: &JobCard,
    plan: &Plan,
    heard: &[Place],
) -> Result<Made, SimulateError> {
    let restrictor = Restrictor {
        diameter_mm: plan.restrictor_mm,
        coefficient: COEFFICIENT.0,
    };
    let condition = condition(spec);
    let watch = Watch::leak_down(
        settings(spec, card),
        spec.cylinder.clone(),
        condition,
        restrictor,
    );
    let steps = AirSteps::new(
        AirTask::LeakDown {
            cylinders: vec![spec.cylinder.clone()],
            condition,
            restrictor,
        },
        AirEngine::of(Some(card)),
    );
    let mut hand = Hand {
        bench: AirBench::new(spec, &plan.supply)?,
        watch,
        steps,
        plan,
        draws: Draws::new(spec.seed, 17),
        told: Vec::new(),
        gap: false,
        pushed: None,
        opened: None,
        called: None,
    };
    hand.pass(1.0)?;
    while hand.acts(heard)? {}
    let took_s = hand.now();
    if plan.let_go.is_some() {
        // Whoever let go sees where the crank comes to stand.
        hand.pass(2.0)?;
    }
    let test = hand.watch.finish();
    Ok(Made {
        called_after_s: hand.called,
        turned: plan.let_go.is_some() && hand.bench.machine.angle().abs() > 0.52,
        rounds: test.at_top().map_or(0, |held| held.rounds),
        took_s,
        test,
    })
}

fn condition(spec: &RunSpec) -> Condition {
    if spec.condition == Condition::ColdDry {
        Condition::ColdDry
    } else {
        Condition::WarmDry
    }
}

fn settings(spec: &RunSpec, card: &JobCard) -> Settings {
    let ambient = needlerest::engine::Ambient::of(card.site.as_ref());
    Settings {
        absolute: false,
        ambient_absolute: ambient.absolute,
        air: Temperature::from_celsius(20.0),
        resolution: Pressure::from_kpa(spec.sensor.resolution_kpa),
        // A quarter of a per cent of 1500 kPa: what the population's sensors are drawn with.
        accuracy_standard: Pressure::from_kpa(4.0),
    }
}

struct Hand<'a> {
    bench: AirBench,
    watch: Watch,
    steps: AirSteps,
    plan: &'a Plan,
    draws: Draws,
    told: Vec<Told>,
    gap: bool,
    pushed: Option<(f64, f64)>,
    /// When the cylinder was opened first, and how long after it was called.
    opened: Option<f64>,
    called: Option<f64>,
}

impl Hand<'_> {
    fn now(&self) -> f64 {
        self.bench.machine.time()
    }

    /// Does what is asked for, or waits; gives whether there is more to do.
    fn acts(&mut self, heard: &[Place]) -> Result<bool, SimulateError> {
        match self.steps.headline() {
            "SUPPLY" => {
                self.answer(AirAnswer::Go);
                self.bench.machine.direct_air(Stage::Supply);
            }
            "TO THE TOP" => {
                self.pass(self.plan.turns_s)?;
                self.answer(AirAnswer::Go);
                self.pass(self.plan.opens_after_s)?;
                let opened = self.now();
                self.opened = Some(opened);
                self.pushed = self.plan.let_go.map(|(after, off)| (opened + after, off));
                self.bench.machine.direct_air(Stage::Top);
            }
            "LISTEN" => {
                self.pass(self.plan.listens_s)?;
                if let Some((at, _)) = self.pushed {
                    // Let go later than the call.
                    self.pass((at - self.now()).max(0.0) + 2.0)?;
                }
                if self.steps.listens() {
                    self.answer(AirAnswer::Heard(heard.to_vec()));
                }
            }
            "SHUT SIDE" => self.turns(Stage::Supply)?,
            "OPEN SIDE" => self.turns(Stage::Top)?,
            "BEFORE TOP" => {
                self.bench.machine.vent();
                self.pass(self.plan.empties_s)?;
                self.answer(AirAnswer::Skip);
            }
            "AFTER TOP" => self.answer(AirAnswer::Skip),
            "AIR OFF" if self.steps.is_under_way() => return Ok(false),
            "AIR OFF" => self.answer(AirAnswer::Go),
            _ => self.waits()?,
        }
        Ok(!self.steps.is_over())
    }

    /// Turns the valve of the cylinder's side, then says so.
    fn turns(&mut self, stage: Stage) -> Result<(), SimulateError> {
        // A person is no clock.
        let after = self.plan.opens_after_s * self.draws.between(0.7, 1.4);
        self.pass(after)?;
        self.bench.machine.direct_air(stage);
        self.pass(SAYS_S)?;
        self.answer(AirAnswer::Go);
        Ok(())
    }

    fn waits(&mut self) -> Result<(), SimulateError> {
        let until = self.now() + PATIENCE_S;
        while self.now() < until && self.steps.headline() == "WAIT" {
            self.pass(0.1)?;
        }
        if self.steps.headline() == "WAIT" {
            self.answer(AirAnswer::Go);
        }
        Ok(())
    }

    fn answer(&mut self, answer: AirAnswer) {
        match self.steps.answer(answer) {
            Ok(entries) => self.goes_on(entries),
            Err(why) => panic!("the hand answers what is not asked: {why}"),
        }
    }

    fn goes_on(&mut self, entries: Vec<Entry>) {
        for entry in entries {
            match entry {
                Entry::Air { stage } => self.watch.set_stage(stage),
                Entry::Heard { places } => self.watch.hear(&places),
                _ => {}
            }
        }
    }

    fn pass(&mut self, seconds: f64) -> Result<(), SimulateError> {
        let until = self.now() + seconds;
        let mut samples = Vec::new();
        if let Some((at, off)) = self.pushed.filter(|(at, _)| *at < until) {
            self.bench.run_to(at, &mut samples)?;
            self.bench.machine.let_go(off);
            self.pushed = None;
        }
        self.bench.run_to(until, &mut samples)?;
        for sample in samples {
            let taken = signal::Sample {
                time: sample.sensor_time,
                pressure: sample.pressure,
                clipped: sample.out_of_range,
                gap_before: std::mem::take(&mut self.gap),
            };
            self.watch.push(taken, &mut self.told);
        }
        let entries = self.steps.tick(Time::from_s(self.now()));
        self.goes_on(entries);
        for told in std::mem::take(&mut self.told) {
            if matches!(told, Told::Plateau(Stage::Top, _)) && self.called.is_none() {
                self.called = self.opened.map(|opened| self.now() - opened);
            }
            let entries = self.steps.told(&told);
            self.goes_on(entries);
        }
        Ok(())
    }
}
