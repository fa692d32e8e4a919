//! Whoever makes a leak-down test does as the tool says: reads the supply until its plateau is
//! called, turns the piston to the top, connects, waits for the call, listens where the air goes, lets
//! it out, reads the supply once more.

use crate::draws::Draws;
use needlerest::engine::{Condition, JobCard};
use needlerest::leakdown::{AirTest, Place, Restrictor, Settings, Stage, Told, Watch};
use needlerest::signal;
use needlerest::simulate::{AirBench, AirSupply, RunSpec, SimulateError};
use needlerest::units::{Pressure, Temperature};

/// Longest wait for a call, s.
const PATIENCE_S: f64 = 15.0;
/// What came to rest is read for so long before the test goes on, s.
const READ_S: f64 = 3.0;
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
    let mut hand = Hand {
        bench: AirBench::new(spec, &plan.supply)?,
        watch: Watch::leak_down(
            settings(spec, card),
            spec.cylinder.clone(),
            condition(spec),
            restrictor,
        ),
        told: Vec::new(),
        gap: false,
        pushed: None,
    };
    hand.pass(1.0)?;
    hand.supply()?;
    hand.pass(plan.turns_s)?;
    hand.watch.set_stage(Stage::Top);
    hand.pass(plan.opens_after_s)?;
    let opened = hand.now();
    hand.pushed = plan.let_go.map(|(after, off)| (opened + after, off));
    hand.bench.machine.direct_air(Stage::Top);
    let called = hand.until_called(Stage::Top)?;
    hand.pass(READ_S + plan.listens_s)?;
    if let Some((at, _)) = hand.pushed {
        // Let go later than the call.
        hand.pass((at - hand.now()).max(0.0) + 2.0)?;
    }
    let turned = hand.bench.machine.angle().abs() > 0.52;
    hand.watch.set_stage(Stage::Shut);
    hand.bench.machine.vent();
    hand.pass(plan.empties_s)?;
    hand.watch.set_stage(Stage::Supply);
    hand.bench.machine.direct_air(Stage::Supply);
    hand.until_called(Stage::Supply)?;
    hand.pass(READ_S)?;
    hand.watch.hear(heard);
    Ok(Made {
        test: hand.watch.finish(),
        called_after_s: called.map(|at| at - opened),
        turned,
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

struct Hand {
    bench: AirBench,
    watch: Watch,
    told: Vec<Told>,
    gap: bool,
    pushed: Option<(f64, f64)>,
}

impl Hand {
    fn now(&self) -> f64 {
        self.bench.machine.time()
    }

    fn supply(&mut self) -> Result<(), SimulateError> {
        self.watch.set_stage(Stage::Supply);
        self.bench.machine.direct_air(Stage::Supply);
        self.until_called(Stage::Supply)?;
        self.pass(READ_S)
    }

    /// When the plateau of a stage is called; none within the patience of a person.
    fn until_called(&mut self, wanted: Stage) -> Result<Option<f64>, SimulateError> {
        let until = self.now() + PATIENCE_S;
        self.told.clear();
        while self.now() < until {
            self.pass(0.1)?;
            let called = |told: &Told| matches!(told, Told::Plateau(stage, _) if *stage == wanted);
            if self.told.iter().any(called) {
                return Ok(Some(self.now()));
            }
        }
        Ok(None)
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
        Ok(())
    }
}
