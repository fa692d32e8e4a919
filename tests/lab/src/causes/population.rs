//! The population that probabilities are stated for: which engines, how they are turned and
//! measured, what is the matter with them and how often.
//!
//! It is ours: no published figures say how often causes occur. Of what an engine cannot have it is
//! drawn again. Rings leak in one cylinder or (one time in five) in all, or one valve, or one gasket
//! between two; deposits are in one or (half of them) in all; timing, throttle, cranking and tester
//! are the same for all. One leaking engine in seven leaks in a second place. Of what leaks in a
//! cylinder the largest hole is its cause.

use super::engines::{Made, scaled};
use super::faults::{Fault, leaks, second_leak, spoil};
use super::visit::{Cause, Known};
use crate::draws::Draws;
use crate::parts;
use needlerest::engine::{Checked, Condition, Cycle, JobCard, atmosphere};
use needlerest::signal::Rig;
use needlerest::simulate::{
    Cylinder, Gas, Oil, Program, RunSpec, Sensor, Surroundings, Tester, Turning,
};

/// Causes and how often they are drawn.
const CAUSES: [(Cause, f64); 8] = [
    (Cause::Rings, 0.17),
    (Cause::Valve, 0.14),
    (Cause::Gasket, 0.10),
    (Cause::Deposits, 0.06),
    (Cause::Timing, 0.03),
    (Cause::Throttle, 0.06),
    (Cause::Slow, 0.05),
    (Cause::TesterLeak, 0.05),
];
/// Effective leak of a sound cylinder, mm² per mm of bore (own choice: 0.26 mm² at 86 mm), of an
/// engine that is turned briskly.
pub const SOUND_LEAK: f64 = 0.003;
/// Standard deviation of its logarithm, between engines and between cylinders of one engine.
pub const SOUND_SPREAD: (f64, f64) = (0.2, 0.15);
/// Share of visits in which the throttle was blocked open, and in which the tester was proved
/// tight, where so it was; the card says so.
const SAW_TO_THROTTLE: f64 = 0.3;
const SAW_TO_TESTER: f64 = 0.3;
/// Step of the integration: coarser than the simulator's own, and still within 0.1 % of its
/// plateau, far below what is told apart here.
const STEP_MS: f64 = 0.8;

/// Which cylinders are wetted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wetting {
    None,
    /// Those that read low, and the best one as a control.
    Low,
    Every,
}

/// A visit to one engine: its card, the runs that can be made, and what is true.
#[derive(Clone, Debug)]
pub struct Plan {
    pub card: JobCard,
    /// Dry runs, all of which are made.
    pub dry: Vec<RunSpec>,
    /// A wet run of each cylinder.
    pub wet: Vec<RunSpec>,
    /// Which of the wet runs are made.
    pub wetting: Wetting,
    /// What is true, but for what it takes.
    pub cylinders: Vec<Known>,
    /// The cylinders as they were before anything was the matter.
    pub sound: Vec<Cylinder>,
    pub cause: Cause,
    /// Share of its usual speed that the engine is turned at: 1 but for slow cranking.
    pub slowed: f64,
    pub card_wrong: bool,
}

/// Draws a visit.
pub fn visit(seed: u64, index: u64) -> Plan {
    let mut d = Draws::new(seed, index);
    let mut made = Made::new(&mut d);
    let cause = loop {
        let cause = drawn_cause(&mut d);
        if made.can_have(cause) {
            break cause;
        }
    };
    let severity = d.unit();
    sound_leaks(&mut made, &mut d);
    let sound = made.engine.cylinders.clone();
    let surroundings = surroundings(&mut d, &mut made.card);
    let rig = if d.chance(0.67) {
        Rig::Holding
    } else {
        Rig::Following
    };
    let mut tester = parts::tester(&mut d, rig, None, &made.engine);
    note_tester(&mut d, &mut made.card, &tester);
    let mut fault = Fault {
        made: &mut made,
        tester: &mut tester,
        throttle: 1.0,
        slowed: 1.0,
        cause,
        severity,
    };
    let touched = fault.apply(&mut d);
    let (throttle, slowed) = (fault.throttle, fault.slowed);
    second_leak(&mut made, cause, &mut d);
    let card_wrong = spoil(&mut made.card, &mut d);
    made.card.checked = Some(Checked {
        throttle_open: cause != Cause::Throttle && d.chance(SAW_TO_THROTTLE),
        tester_tight: cause != Cause::TesterLeak && d.chance(SAW_TO_TESTER),
    });
    let cylinders = truths(&made, cause, &touched, &sound);
    let runs = Runs {
        made: &made,
        tester,
        throttle,
        surroundings,
        sensor: sensor(&mut d, rig),
    };
    let (dry, wet, wetting) = runs.drawn(&mut d);
    Plan {
        dry,
        wet,
        wetting,
        cylinders,
        sound,
        cause,
        slowed,
        card_wrong,
        card: made.card,
    }
}

fn drawn_cause(d: &mut Draws) -> Cause {
    let mut left = d.unit();
    for (cause, share) in CAUSES {
        left -= share;
        if left < 0.0 {
            return cause;
        }
    }
    Cause::Sound
}

/// Gives every cylinder the leak past its rings and valves that sound ones have.
fn sound_leaks(made: &mut Made, d: &mut Draws) {
    let (between_engines, between_cylinders) = SOUND_SPREAD;
    let usual = SOUND_LEAK * made.engine.bore_mm * made.pace;
    let engine = usual * libm::exp(between_engines * d.normal());
    let two_stroke = made.engine.valves.is_none();
    for cylinder in &mut made.engine.cylinders {
        let leak = engine * libm::exp(between_cylinders * d.normal());
        let at_valves = if two_stroke { 0.0 } else { d.between(0.0, 0.3) };
        cylinder.ring_leak_mm2 = leak * (1.0 - at_valves);
        cylinder.intake_leak_mm2 = leak * at_valves * 0.5;
        cylinder.exhaust_leak_mm2 = leak * at_valves * 0.5;
    }
}

/// What is true of each cylinder.
fn truths(made: &Made, cause: Cause, touched: &[usize], sound: &[Cylinder]) -> Vec<Known> {
    let cylinders = made.engine.cylinders.iter().zip(sound).enumerate();
    cylinders
        .map(|(at, (cylinder, sound))| {
            let gaskets = made.engine.gaskets.iter();
            let gasket: f64 = gaskets
                .filter(|gasket| gasket.between.contains(&cylinder.name))
                .map(|gasket| gasket.leak_mm2)
                .sum();
            let mut causes = leaks(cylinder, sound, gasket).into_iter();
            let other = touched.contains(&at).then_some(cause);
            Known {
                name: cylinder.name.clone(),
                cause: causes.next().or(other).unwrap_or(Cause::Sound),
                also: causes.next(),
                takes: 0.0,
                leak_mm2: Some(
                    cylinder.ring_leak_mm2
                        + cylinder.intake_leak_mm2
                        + cylinder.exhaust_leak_mm2
                        + gasket,
                ),
            }
        })
        .collect()
}

/// The site: up to 2000 m high; the card knows the height, or the station pressure.
fn surroundings(d: &mut Draws, card: &mut JobCard) -> Surroundings {
    let height = d.between(0.0, 2000.0);
    let weather = 1.0 + 0.008 * d.normal();
    let ambient = atmosphere::pressure_absolute(height) * weather;
    let site = card.site.get_or_insert_default();
    if d.chance(0.3) {
        site.ambient_absolute = Some(ambient);
    } else {
        site.altitude_m = Some((height / 50.0).round() * 50.0);
    }
    Surroundings {
        ambient_kpa: ambient.kpa(),
        air_celsius: d.between(5.0, 30.0),
    }
}

/// The card mostly knows the tester's volumes.
fn note_tester(d: &mut Draws, card: &mut JobCard, tester: &Tester) {
    let known = card.tester.get_or_insert_default();
    let holding = tester.check_valve.is_some();
    let dead = if holding {
        tester.adapter_cm3
    } else {
        tester.adapter_cm3 + tester.hose_cm3
    };
    if d.chance(0.7) {
        known.dead_volume_cm3 = Some(dead * (1.0 + 0.1 * d.normal()).max(0.1));
        known.hose_volume_cm3 = holding.then_some(tester.hose_cm3);
    }
}

fn sensor(d: &mut Draws, rig: Rig) -> Sensor {
    let rate_hz = match rig {
        Rig::Holding => d.pick(&[20.0, 50.0, 100.0, 200.0, 500.0], 100.0),
        Rig::Following => d.pick(&[200.0, 500.0, 1000.0], 200.0),
    };
    Sensor {
        span_error: 0.0025 * d.normal(),
        range_max_kpa: 3500.0,
        ..parts::sensor(d, rig, rate_hz, false, None)
    }
}

/// Which runs are made.
struct Runs<'a> {
    made: &'a Made,
    tester: Tester,
    throttle: f64,
    surroundings: Surroundings,
    sensor: Sensor,
}

impl Runs<'_> {
    /// Dry on every cylinder: cold, warm, or both. The oil of a visit is of one kind: it seals and
    /// stays much alike in every cylinder.
    fn drawn(&self, d: &mut Draws) -> (Vec<RunSpec>, Vec<RunSpec>, Wetting) {
        let (cold, warm) = match d.unit() {
            x if x < 0.5 => (true, false),
            x if x < 0.85 => (false, true),
            _ => (true, true),
        };
        let warm_wall = d.between(60.0, 95.0);
        let cold_wall = self.surroundings.air_celsius;
        let count = self.made.engine.cylinders.len();
        let mut dry = Vec::new();
        for (made, condition, wall) in [
            (cold, Condition::ColdDry, cold_wall),
            (warm, Condition::WarmDry, warm_wall),
        ] {
            for at in (0..count).filter(|_| made) {
                dry.push(self.run(at, condition, wall, None, d));
            }
        }
        let wetting = match d.unit() {
            _ if self.made.card.engine.cycle == Cycle::TwoStroke => Wetting::None,
            x if x < 0.3 => Wetting::None,
            x if x < 0.6 => Wetting::Low,
            _ => Wetting::Every,
        };
        let wall = if warm { warm_wall } else { cold_wall };
        let wanted = self.made.card.tester.as_ref().and_then(|t| t.wet_oil_cm3);
        let kind = Oil {
            ml: wanted.unwrap_or(0.1 * self.made.clearance_cm3()),
            ring_share: d.between(0.15, 0.45),
            seals_for_strokes: d.decades(15.0, 80.0),
            stays_for_strokes: d.decades(4.0, 40.0),
        };
        let wet = (0..count)
            .map(|at| {
                let oil = Oil {
                    ml: kind.ml * d.between(0.85, 1.15),
                    ring_share: kind.ring_share * d.between(0.8, 1.2),
                    seals_for_strokes: kind.seals_for_strokes * d.between(0.8, 1.25),
                    stays_for_strokes: kind.stays_for_strokes * d.between(0.8, 1.25),
                };
                self.run(at, Condition::Wet, wall, Some(oil), d)
            })
            .collect();
        (dry, wet, wetting)
    }

    fn run(
        &self,
        at: usize,
        condition: Condition,
        wall_celsius: f64,
        oil: Option<Oil>,
        d: &mut Draws,
    ) -> RunSpec {
        // The battery sags, legs and arms tire: up to 8 % from run to run.
        let turning = scaled(self.made.turning, d.between(0.92, 1.0));
        RunSpec {
            engine: self.made.engine.clone(),
            cylinder: self.made.engine.cylinders[at].name.clone(),
            condition,
            wall_celsius,
            oil,
            surroundings: self.surroundings,
            throttle: self.throttle,
            plugs_in: false,
            turning,
            starts_at_deg: d.between(-360.0, 360.0),
            tester: self.tester,
            sensor: self.sensor,
            radio: parts::radio(d, self.sensor.rate_hz, None),
            program: program(d, turning),
            seed: d.seed(),
            step_ms: STEP_MS,
            heat_factor: self.made.heat_factor,
            gas: Gas::Air,
        }
    }
}

fn program(d: &mut Draws, turning: Turning) -> Program {
    let (strokes, crank_at_most_s) = parts::goes_on_for(d, turning);
    Program {
        quiet_s: 1.5,
        strokes: strokes as u32,
        crank_at_most_s,
        hold_s: d.between(1.5, 6.0),
        bleed_s: 1.0,
        rest_s: 0.6,
    }
}
