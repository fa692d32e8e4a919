//! Draws whole visits to engines from a documented distribution, for corpora with known truth.
//!
//! Visit `index` of a seed is always the same, whatever else is drawn and on however many
//! threads.
//!
//! | what | how it is drawn |
//! | --- | --- |
//! | family | the six of [`Family`], equally often |
//! | bore, stroke, rod | the family's, times one factor of 1 ± 5 % (normal, at most 12 %) |
//! | compression ratio | the family's ± 0.4 (normal) |
//! | sound ring leak | 0.08 to 0.5 mm² for 500 cm³, log-uniform for the engine, ± 15 % between cylinders; areas go with swept volume to the power 2/3 |
//! | sound valve leak | 0 to 0.05 mm², each valve |
//! | fault | none 34 %, worn rings 16 %, intake valve 9 %, exhaust valve 11 %, gasket 8 % (with two cylinders or more; else none), throttle shut 6 %, late cam 4 %, deposits 6 %, weak turning 6 % |
//! | its size | rings 0.9 to 7 mm², valves 0.6 to 9 mm², gasket 1.5 to 12 mm², for 500 cm³, log-uniform; cam 8 to 30°; deposits 8 % to 25 % of the clearance; turning at 0.62 to 0.8 of its strength; throttle 0 to 0.03 open |
//! | where | rings: one cylinder (70 %) or all; valves: one cylinder; gasket: two neighbours; others: all cylinders |
//! | conditions | cold dry 100 %, warm dry 55 % (walls 60 °C to 95 °C), wet 55 % (2 to 8 ml for 500 cm³, at most 12 % of the clearance) |
//! | oil | leaves 8 % to 30 % of the ring leak, seals for 20 to 80 strokes, stays for 4 to 25 |
//! | altitude and air | 80 to 103 kPa; −5 °C to 35 °C |
//! | rig | holding 60 %, following 40 % (half of them with a hose) |
//! | sample rate | holding 5 to 500 Hz, following 50 to 2000 Hz, from a list |
//! | strokes | following: 3 to 12; holding: 0.6 to 4 times what isothermal mixing needs to come within 1 %, 3 to 40 |
//! | heat lost in the hose | 0.4 to 1.6 W/K for each cm³ |
//! | tester leak | 12 % of holding rigs, 0.002 to 0.05 mm² |
//! | noise | 0.1 to 6 kPa white, up to half of that slow; 0.05 to 2 kPa resolution |
//! | radio | loss up to 3 % in half of the visits, bursts in a quarter, repeats and reorders in a fifth |

use super::families::Family;
use super::random::Draws;
use super::recipe::{FORMAT, PlannedRun, Recipe};
use super::spec::{
    CheckValve, Engine, Gasket, Oil, Program, Radio, Sensor, Surroundings, Tester, Turning,
};
use crate::engine::Condition;
use serde::{Deserialize, Serialize};

/// What is wrong with a drawn engine or its test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Fault {
    /// Nothing.
    None,
    /// Worn or broken rings.
    Rings,
    /// A leaking intake valve (two-stroke: crankcase seals).
    IntakeValve,
    /// A leaking exhaust valve (two-stroke: the head's joint).
    ExhaustValve,
    /// A gasket that leaks between two neighbours.
    Gasket,
    /// A throttle that was left shut.
    ThrottleShut,
    /// A late cam.
    LateCam,
    /// Deposits in the combustion chamber.
    Deposits,
    /// A weak battery or a tired arm.
    WeakTurning,
}

impl Fault {
    /// As it is written in a summary.
    pub const fn label(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Rings => "rings",
            Self::IntakeValve => "intake-valve",
            Self::ExhaustValve => "exhaust-valve",
            Self::Gasket => "gasket",
            Self::ThrottleShut => "throttle-shut",
            Self::LateCam => "late-cam",
            Self::Deposits => "deposits",
            Self::WeakTurning => "weak-turning",
        }
    }
}

/// A drawn visit.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawn {
    /// The engine's family.
    pub family: Family,
    /// What is wrong.
    pub fault: Fault,
    /// Names of the cylinders with the fault; empty if it is none of a cylinder.
    pub at: Vec<String>,
    /// How bad: leak in mm², degrees, cm³, or share, as the fault has it.
    pub size: f64,
    /// The visit.
    pub recipe: Recipe,
}

/// Draws visit `index` of a seed.
pub fn draw(seed: u64, index: u64) -> Drawn {
    let mut d = Draws::new(seed, index);
    let family = *d.pick(&Family::ALL);
    let mut engine = engine(family, &mut d);
    let mut turning = vary_turning(family.turning(), 1.0 + 0.06 * d.normal());
    let (fault, at, size) = inflict(&mut engine, &mut turning, &mut d);
    let throttle = if fault == Fault::ThrottleShut {
        size
    } else {
        1.0
    };
    let surroundings = Surroundings {
        ambient_kpa: round(d.between(80.0, 103.0), 10.0),
        air_celsius: round(d.between(-5.0, 35.0), 10.0),
    };
    let holding = d.chance(0.6);
    let tester = tester(holding, litres(&engine), &mut d);
    let sensor = sensor(holding, &mut d);
    let radio = radio(sensor.rate_hz, &mut d);
    let program = Program {
        quiet_s: d.between(0.8, 2.0),
        strokes: strokes(&engine, &tester, &mut d),
        crank_at_most_s: 45.0,
        hold_s: d.between(1.0, 4.0),
        bleed_s: 1.0,
        rest_s: d.between(0.5, 1.5),
    };
    let runs = runs(&engine, surroundings, throttle, &mut d);
    let recipe = Recipe {
        format: FORMAT.to_owned(),
        version: 1,
        about: format!("Drawn: visit {index} of seed {seed}. Invented."),
        seed: d.seed(),
        started: "2026-01-01T00:00:00Z".to_owned(),
        card: None,
        protocol: None,
        sensor_name: "Simulated sensor".to_owned(),
        air: None,
        air_tests: Vec::new(),
        step_ms: super::spec::step(),
        surroundings,
        turning,
        tester,
        sensor,
        radio,
        program,
        engine,
        runs,
    };
    Drawn {
        family,
        fault,
        at,
        size,
        recipe,
    }
}

/// Swept volume of a cylinder in litres.
fn litres(engine: &Engine) -> f64 {
    super::shape::slider(engine).swept() * 1e3
}

/// Factor on leak areas that are given for a cylinder of 500 cm³.
fn leak_scale(engine: &Engine) -> f64 {
    let ratio = litres(engine) / 0.5;
    libm::cbrt(ratio * ratio)
}

fn engine(family: Family, d: &mut Draws) -> Engine {
    let mut engine = family.engine();
    let size = 1.0 + (0.05 * d.normal()).clamp(-0.12, 0.12);
    engine.bore_mm *= size;
    engine.stroke_mm *= size;
    engine.rod_mm *= size;
    engine.compression_ratio += (0.4 * d.normal()).clamp(-1.0, 1.0);
    engine.friction_kpa *= 1.0 + (0.15 * d.normal()).clamp(-0.4, 0.4);
    let scale = leak_scale(&engine);
    let sound = d.log_between(0.08, 0.5) * scale;
    for cylinder in &mut engine.cylinders {
        cylinder.ring_leak_mm2 = sound * (1.0 + (0.15 * d.normal()).clamp(-0.4, 0.4));
        cylinder.intake_leak_mm2 = d.between(0.0, 0.05) * scale;
        cylinder.exhaust_leak_mm2 = d.between(0.0, 0.05) * scale;
    }
    engine
}

fn vary_turning(turning: Turning, strength: f64) -> Turning {
    match turning {
        Turning::Electric {
            stall_nm, free_rpm, ..
        } => Turning::Electric {
            stall_nm,
            free_rpm,
            battery: strength,
        },
        Turning::Kick(mut bursts) => {
            bursts.torque_nm *= strength;
            bursts.free_rpm *= strength;
            Turning::Kick(bursts)
        }
        Turning::PullCord(mut bursts) => {
            bursts.torque_nm *= strength;
            bursts.free_rpm *= strength;
            Turning::PullCord(bursts)
        }
        Turning::HandCrank {
            torque_nm,
            free_rpm,
            variation,
        } => Turning::HandCrank {
            torque_nm: torque_nm * strength,
            free_rpm: free_rpm * strength,
            variation,
        },
        steady @ Turning::Steady { .. } => steady,
    }
}

fn draw_fault(d: &mut Draws) -> Fault {
    const SHARES: [(Fault, f64); 8] = [
        (Fault::Rings, 0.16),
        (Fault::IntakeValve, 0.09),
        (Fault::ExhaustValve, 0.11),
        (Fault::Gasket, 0.08),
        (Fault::ThrottleShut, 0.06),
        (Fault::LateCam, 0.04),
        (Fault::Deposits, 0.06),
        (Fault::WeakTurning, 0.06),
    ];
    let mut left = d.unit();
    for (fault, share) in SHARES {
        left -= share;
        if left < 0.0 {
            return fault;
        }
    }
    Fault::None
}

/// Draws a fault and works it into the engine; returns where and how bad.
fn inflict(engine: &mut Engine, turning: &mut Turning, d: &mut Draws) -> (Fault, Vec<String>, f64) {
    let fault = draw_fault(d);
    let scale = leak_scale(engine);
    let names: Vec<String> = engine.cylinders.iter().map(|c| c.name.clone()).collect();
    let one = ((d.unit() * names.len() as f64) as usize).min(names.len() - 1);
    let everywhere = d.chance(0.3);
    match fault {
        Fault::Rings => {
            let leak = d.log_between(0.9, 7.0) * scale;
            for (i, cylinder) in engine.cylinders.iter_mut().enumerate() {
                if everywhere || i == one {
                    cylinder.ring_leak_mm2 += leak;
                }
            }
            let at = if everywhere {
                names
            } else {
                vec![names[one].clone()]
            };
            (fault, at, leak)
        }
        Fault::IntakeValve => {
            let leak = d.log_between(0.6, 9.0) * scale;
            engine.cylinders[one].intake_leak_mm2 += leak;
            (fault, vec![names[one].clone()], leak)
        }
        Fault::ExhaustValve => {
            let leak = d.log_between(0.6, 9.0) * scale;
            engine.cylinders[one].exhaust_leak_mm2 += leak;
            (fault, vec![names[one].clone()], leak)
        }
        Fault::Gasket if names.len() > 1 => {
            let leak_mm2 = d.log_between(1.5, 12.0) * scale;
            let first = one.min(names.len() - 2);
            let between = [names[first].clone(), names[first + 1].clone()];
            let at = between.to_vec();
            engine.gaskets.push(Gasket { between, leak_mm2 });
            (fault, at, leak_mm2)
        }
        Fault::ThrottleShut => (fault, Vec::new(), d.between(0.0, 0.03)),
        Fault::LateCam if engine.valves.is_some() => {
            let late = d.between(8.0, 30.0);
            for cylinder in &mut engine.cylinders {
                cylinder.cam_late_deg = late;
            }
            (fault, names, late)
        }
        Fault::Deposits => {
            let clearance = litres(engine) * 1e3 / (engine.compression_ratio - 1.0);
            let filled = d.between(0.08, 0.25) * clearance;
            for cylinder in &mut engine.cylinders {
                cylinder.deposits_cm3 = filled;
            }
            (fault, names, filled)
        }
        Fault::WeakTurning => {
            let strength = d.between(0.62, 0.8);
            *turning = vary_turning(*turning, strength);
            (fault, Vec::new(), strength)
        }
        _ => (Fault::None, Vec::new(), 0.0),
    }
}

fn runs(
    engine: &Engine,
    surroundings: Surroundings,
    throttle: f64,
    d: &mut Draws,
) -> Vec<PlannedRun> {
    let warm = d.chance(0.55).then(|| d.between(60.0, 95.0));
    let clearance_ml = litres(engine) * 1e3 / (engine.compression_ratio - 1.0);
    let ml = (d.between(2.0, 8.0) * litres(engine) / 0.5).min(0.12 * clearance_ml);
    let oil = Oil {
        ml,
        ring_share: d.between(0.08, 0.3),
        seals_for_strokes: d.between(20.0, 80.0),
        stays_for_strokes: d.between(4.0, 25.0),
    };
    let wet = d.chance(0.55);
    let mut runs = Vec::new();
    let mut add = |condition, wall_celsius, oil| {
        for cylinder in &engine.cylinders {
            runs.push(PlannedRun {
                cylinder: cylinder.name.clone(),
                condition,
                wall_celsius,
                oil,
                throttle,
                strokes: None,
                turning: None,
                void: None,
                note: None,
            });
        }
    };
    add(Condition::ColdDry, surroundings.air_celsius, None);
    if let Some(celsius) = warm {
        add(Condition::WarmDry, celsius, None);
    }
    if wet {
        let celsius = warm.unwrap_or(surroundings.air_celsius);
        add(Condition::Wet, celsius, Some(oil));
    }
    runs
}

fn tester(holding: bool, litres: f64, d: &mut Draws) -> Tester {
    // A small engine gets the small adapter.
    let small = (litres / 0.5).clamp(0.25, 1.0);
    let adapter_cm3 = d.between(0.3, 2.0) * small;
    let hose = holding || d.chance(0.5);
    let hose_cm3 = match (holding, hose) {
        (true, _) => d.log_between(3.0, 30.0) * small.max(0.5),
        (false, true) => d.between(1.0, 6.0) * small,
        (false, false) => 0.0,
    };
    let leaks = holding && d.chance(0.12);
    let leak = d.log_between(0.002, 0.05);
    Tester {
        adapter_cm3,
        hose_cm3,
        way_mm2: if holding {
            d.between(4.0, 12.0)
        } else {
            d.between(8.0, 25.0)
        },
        check_valve: holding.then(|| CheckValve {
            cracking_kpa: d.between(3.0, 35.0),
            leak_mm2: 0.0,
        }),
        leak_mm2: if leaks { leak } else { 0.0 },
        // A hose of about 5 mm bore has 8 cm² of wall a cm³. Gas at 8 bar that rushes through it
        // at 50 m/s gives 1200 W/(m² K) by Dittus and Boelter's correlation (from memory).
        heat_w_per_k: hose_cm3 * d.between(0.4, 1.6),
        bleed_mm2: 3.0,
    }
}

/// Strokes to crank for: now too few, now more than enough for the volume to be filled.
fn strokes(engine: &Engine, tester: &Tester, d: &mut Draws) -> u32 {
    if tester.check_valve.is_none() {
        return d.between(3.0, 13.0) as u32;
    }
    let clearance = litres(engine) * 1e3 / (engine.compression_ratio - 1.0);
    let keeps = tester.hose_cm3 / (tester.hose_cm3 + clearance);
    let needed = libm::log(0.01) / libm::log(keeps);
    (needed * d.between(0.6, 4.0)).clamp(3.0, 40.0) as u32
}

fn sensor(holding: bool, d: &mut Draws) -> Sensor {
    let rate_hz = if holding {
        *d.pick(&[5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0])
    } else {
        *d.pick(&[50.0, 100.0, 200.0, 400.0, 500.0, 1000.0, 2000.0])
    };
    let noise_kpa = d.log_between(0.1, 6.0);
    Sensor {
        rate_hz,
        lag_ms: d.log_between(0.2, if holding { 10.0 } else { 2.0 }),
        resolution_kpa: d.log_between(0.05, 2.0),
        range_min_kpa: -100.0,
        range_max_kpa: if d.chance(0.04) { 1000.0 } else { 2500.0 },
        noise_kpa,
        slow_noise_kpa: noise_kpa * d.between(0.0, 0.5),
        slow_noise_s: d.log_between(0.2, 10.0),
        offset_kpa: 8.0 * d.normal(),
        span_error: 0.004 * d.normal(),
        warm_up_kpa: 1.0 * d.normal(),
        warm_up_s: d.between(20.0, 200.0),
        clock_ppm: 60.0 * d.normal(),
    }
}

fn radio(rate_hz: f64, d: &mut Draws) -> Radio {
    let often = |d: &mut Draws, p: f64, most: f64| {
        let (is, size) = (d.chance(p), d.between(0.0, most));
        if is { size } else { 0.0 }
    };
    Radio {
        samples_per_packet: (rate_hz * d.between(0.02, 0.1)).clamp(1.0, 60.0) as u32,
        interval_ms: *d.pick(&[7.5, 15.0, 30.0, 50.0]),
        jitter_ms: d.between(0.0, 12.0),
        loss: often(d, 0.5, 0.03),
        loss_bursts_per_min: often(d, 0.25, 6.0),
        loss_burst_s: d.between(0.05, 0.4),
        repeated: often(d, 0.2, 0.02),
        reordered: often(d, 0.2, 0.02),
        outages: Vec::new(),
    }
}

fn round(value: f64, per_unit: f64) -> f64 {
    (value * per_unit).round() / per_unit
}
