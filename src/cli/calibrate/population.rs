//! The population that probabilities are stated for: which engines, how they are turned and
//! measured, what is the matter with them and how often.
//!
//! It is ours: no published figures say how often causes occur. Frequencies (of sessions):
//! nothing 40 %, rings 14 %, valve 11 %, gasket 8 %, deposits 6 %, valve timing 5 %, throttle shut
//! 6 %, slow cranking 5 %, tester leak 5 %; what an engine cannot have is drawn again. Rings leak
//! in one cylinder or (three times in ten) in all, or one valve, or one gasket between two;
//! deposits are in one or (six in ten) in all; timing, throttle, cranking and tester are the same
//! for all. That cause is the leading cause of each cylinder it touches; the others are healthy.
//! One leaking engine in five (7 % of the visits) leaks in a second place: rings or a valve of
//! another cylinder or (four times in ten, and where there is no other) of the same. Of what
//! leaks in a cylinder the largest hole is its leading cause.

use super::engines::{Kind, Made};
use super::faults::{Fault, second_leak, spoil, truths};
use crate::assess::CauseKind;
use crate::engine::{Checked, Condition, Cycle, JobCard, atmosphere};
use crate::simulate::{
    CheckValve, Draws, Oil, Program, Radio, RunSpec, Sensor, Surroundings, Tester, Turning,
};
use serde::{Deserialize, Serialize};

/// Causes and how often they are drawn.
const CAUSES: [(CauseKind, f64); 9] = [
    (CauseKind::Healthy, 0.40),
    (CauseKind::Rings, 0.14),
    (CauseKind::Valve, 0.11),
    (CauseKind::Gasket, 0.08),
    (CauseKind::HighCompression, 0.06),
    (CauseKind::ValveTiming, 0.05),
    (CauseKind::ThrottleShut, 0.06),
    (CauseKind::SlowCranking, 0.05),
    (CauseKind::TesterLeak, 0.05),
];
/// Effective leak of a healthy cylinder, mm² per mm of bore (own choice: 0.26 mm² at 86 mm).
pub(super) const HEALTHY_LEAK: f64 = 0.003;
/// Share of visits in which the throttle was blocked open, and in which the tester was proved
/// tight, where so it was; the card says so.
const SAW_TO_THROTTLE: f64 = 0.5;
const SAW_TO_TESTER: f64 = 0.3;
/// Step of the integration: coarser than the simulator's own, and still within 0.1 % of its
/// plateau, far below what is told apart here.
const STEP_MS: f64 = 0.8;
/// Standard deviation of its logarithm, between engines and between cylinders of one engine.
pub(super) const HEALTHY_SPREAD: (f64, f64) = (0.4, 0.25);

/// What is true of a cylinder.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Truth {
    pub name: String,
    pub cause: CauseKind,
    /// Leak past rings, valves and gasket together, mm².
    pub leak_mm2: f64,
    /// The same without the fault.
    pub healthy_mm2: f64,
    /// What else is the matter with it; nothing mostly.
    pub also: Option<CauseKind>,
}

/// Which cylinders are wetted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Wetting {
    /// None: half of the visits, and every two-stroke.
    None,
    /// Those that read low, and the best one as a control.
    Low,
    /// Every one.
    Every,
}

/// A visit to one engine: its card, the runs that can be made, and what is true.
#[derive(Clone, Debug)]
pub(super) struct Visit {
    pub card: JobCard,
    /// Dry runs, all of which are made.
    pub dry: Vec<RunSpec>,
    /// A wet run of each cylinder.
    pub wet: Vec<RunSpec>,
    /// Which of the wet runs are made.
    pub wetting: Wetting,
    pub truths: Vec<Truth>,
    pub cause: CauseKind,
    /// Share of its usual speed that the engine is turned at: 1 but for slow cranking.
    pub slowed: f64,
    /// It leaks in a second place.
    pub two_leaks: bool,
    /// The card states a wrong figure.
    pub card_wrong: bool,
    /// How bad the fault is, from 0 to 1 within its range.
    pub severity: f64,
}

/// Draws a visit.
pub(super) fn visit(seed: u64, index: u64) -> Visit {
    let mut draws = Draws::new(seed, index);
    let kind = Kind::drawn(&mut draws);
    let mut made = Made::new(kind, &mut draws);
    let cause = loop {
        let cause = drawn_cause(&mut draws);
        if made.can_have(cause) {
            break cause;
        }
    };
    let severity = draws.unit();
    let healthy = healthy_leaks(&mut made, &mut draws);
    let surroundings = surroundings(&mut draws, &mut made.card);
    let mut tester = tester(&mut draws, &mut made);
    let mut fault = Fault {
        made: &mut made,
        tester: &mut tester,
        throttle: 1.0,
        slowed: 1.0,
        cause,
        severity,
    };
    let touched = fault.apply(&mut draws);
    let (throttle, slowed) = (fault.throttle, fault.slowed);
    let two_leaks = second_leak(&mut made, cause, &touched, &mut draws);
    let card_wrong = spoil(&mut made.card, &mut draws);
    made.card.checked = Some(Checked {
        throttle_open: cause != CauseKind::ThrottleShut && draws.chance(SAW_TO_THROTTLE),
        tester_tight: cause != CauseKind::TesterLeak && draws.chance(SAW_TO_TESTER),
    });
    let truths = truths(&made, cause, &touched, &healthy);
    let plan = Plan {
        made: &made,
        tester,
        throttle,
        surroundings,
        sensor: sensor(&mut draws, tester.check_valve.is_some()),
    };
    let (dry, wet, wetting) = plan.runs(&mut draws);
    Visit {
        dry,
        wet,
        wetting,
        truths,
        cause,
        slowed,
        two_leaks,
        card_wrong,
        severity,
        card: made.card,
    }
}

fn drawn_cause(draws: &mut Draws) -> CauseKind {
    let mut left = draws.unit();
    for (cause, share) in CAUSES {
        left -= share;
        if left < 0.0 {
            return cause;
        }
    }
    CauseKind::Healthy
}

/// Gives every cylinder the leak past its rings that healthy ones have.
fn healthy_leaks(made: &mut Made, draws: &mut Draws) -> Vec<f64> {
    let (between_engines, between_cylinders) = HEALTHY_SPREAD;
    let engine = HEALTHY_LEAK * made.engine.bore_mm * libm::exp(between_engines * draws.normal());
    for cylinder in &mut made.engine.cylinders {
        cylinder.ring_leak_mm2 = engine * libm::exp(between_cylinders * draws.normal());
    }
    made.engine
        .cylinders
        .iter()
        .map(|cylinder| cylinder.ring_leak_mm2)
        .collect()
}

/// The site: up to 1500 m high; the card knows the height, or the station pressure.
fn surroundings(draws: &mut Draws, card: &mut JobCard) -> Surroundings {
    let height = draws.between(0.0, 1500.0);
    let weather = 1.0 + 0.008 * draws.normal();
    let ambient = atmosphere::pressure_absolute(height) * weather;
    let site = card.site.get_or_insert_default();
    if draws.chance(0.3) {
        site.ambient_absolute = Some(ambient);
    } else {
        site.altitude_m = Some((height / 50.0).round() * 50.0);
    }
    Surroundings {
        ambient_kpa: ambient.kpa(),
        air_celsius: draws.between(5.0, 30.0),
    }
}

/// A tester with or without a check valve; the card mostly knows its volumes.
fn tester(draws: &mut Draws, made: &mut Made) -> Tester {
    let small = (made.swept_cm3() / 300.0).min(1.0);
    let holding = draws.chance(0.6);
    let adapter_cm3 = draws.between(0.2, 1.5) * small;
    let hose_cm3 = if holding {
        draws.between(4.0, 25.0) * small
    } else {
        draws.between(0.5, 2.0) * small
    };
    let known = made.card.tester.get_or_insert_default();
    let dead = if holding {
        adapter_cm3
    } else {
        adapter_cm3 + hose_cm3
    };
    if draws.chance(0.7) {
        known.dead_volume_cm3 = Some(dead * (1.0 + 0.1 * draws.normal()).max(0.1));
        known.hose_volume_cm3 = holding.then_some(hose_cm3);
    }
    Tester {
        adapter_cm3,
        hose_cm3,
        way_mm2: draws.between(4.0, 10.0),
        check_valve: holding.then(|| CheckValve {
            cracking_kpa: draws.between(1.0, 8.0),
            leak_mm2: 0.0,
        }),
        leak_mm2: 0.0,
        // Through still gas in a tube of 5 mm (Nusselt number 3.66) it is 0.02 W/K a cm³; gas
        // that moves gives off more.
        heat_w_per_k: hose_cm3 * draws.between(0.02, 0.1),
        bleed_mm2: 3.0,
    }
}

fn sensor(draws: &mut Draws, holding: bool) -> Sensor {
    let rates: &[f64] = if holding {
        &[50.0, 100.0, 200.0]
    } else {
        &[250.0, 500.0]
    };
    Sensor {
        rate_hz: *draws.pick(rates),
        lag_ms: draws.between(0.2, 1.0),
        resolution_kpa: *draws.pick(&[0.1, 0.5, 1.0]),
        range_min_kpa: -100.0,
        range_max_kpa: 4000.0,
        noise_kpa: draws.between(0.1, 1.0),
        slow_noise_kpa: 0.1,
        slow_noise_s: 1.0,
        offset_kpa: 2.0 * draws.normal(),
        span_error: 0.0025 * draws.normal(),
        warm_up_kpa: 0.0,
        warm_up_s: 60.0,
        clock_ppm: 20.0 * draws.normal(),
    }
}

/// Which runs are made.
struct Plan<'a> {
    made: &'a Made,
    tester: Tester,
    throttle: f64,
    surroundings: Surroundings,
    sensor: Sensor,
}

impl Plan<'_> {
    /// Dry on every cylinder: mostly warm, some cold, some both. Half of the visits have wet
    /// runs. The oil of a visit is of one kind: it seals and stays much alike in every cylinder.
    fn runs(&self, draws: &mut Draws) -> (Vec<RunSpec>, Vec<RunSpec>, Wetting) {
        let (warm, cold) = match draws.unit() {
            x if x < 0.6 => (true, false),
            x if x < 0.75 => (false, true),
            _ => (true, true),
        };
        let warm_wall = draws.between(65.0, 95.0);
        let cold_wall = self.surroundings.air_celsius;
        let count = self.made.engine.cylinders.len();
        let mut dry = Vec::new();
        for (made, condition, wall) in [
            (cold, Condition::ColdDry, cold_wall),
            (warm, Condition::WarmDry, warm_wall),
        ] {
            for at in (0..count).filter(|_| made) {
                dry.push(self.run(at, condition, wall, None, draws));
            }
        }
        let wetting = match draws.unit() {
            _ if self.made.card.engine.cycle == Cycle::TwoStroke => Wetting::None,
            x if x < 0.5 => Wetting::None,
            x if x < 0.8 => Wetting::Low,
            _ => Wetting::Every,
        };
        let wall = if warm { warm_wall } else { cold_wall };
        let kind = Oil {
            ml: self.made.oil_cm3(),
            ring_share: draws.between(0.15, 0.45),
            seals_for_strokes: draws.log_between(15.0, 80.0),
            stays_for_strokes: draws.log_between(4.0, 25.0),
        };
        let wet = (0..count)
            .map(|at| {
                let oil = Oil {
                    ml: kind.ml * draws.between(0.85, 1.15),
                    ring_share: kind.ring_share * draws.between(0.8, 1.2),
                    seals_for_strokes: kind.seals_for_strokes * draws.between(0.8, 1.25),
                    stays_for_strokes: kind.stays_for_strokes * draws.between(0.8, 1.25),
                };
                self.run(at, Condition::Wet, wall, Some(oil), draws)
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
        draws: &mut Draws,
    ) -> RunSpec {
        RunSpec {
            engine: self.made.engine.clone(),
            cylinder: self.made.engine.cylinders[at].name.clone(),
            condition,
            wall_celsius,
            oil,
            surroundings: self.surroundings,
            throttle: self.throttle,
            plugs_in: false,
            turning: self.turning(draws),
            starts_at_deg: draws.between(-360.0, 360.0),
            tester: self.tester,
            sensor: self.sensor,
            radio: quiet_radio(),
            program: Program {
                quiet_s: 1.0,
                strokes: 7 + (draws.unit() * 5.0) as u32,
                crank_at_most_s: 90.0,
                hold_s: 2.0,
                bleed_s: 0.8,
                rest_s: 0.6,
            },
            seed: draws.seed(),
            step_ms: STEP_MS,
            heat_factor: self.made.heat_factor,
            gas: crate::simulate::Gas::Air,
        }
    }

    /// The battery sags, legs and arms tire: up to 8 % from run to run.
    fn turning(&self, draws: &mut Draws) -> Turning {
        let factor = draws.between(0.92, 1.0);
        super::engines::scaled(self.made.turning, factor)
    }
}

/// Nothing is lost on the way: the radio is calibrated elsewhere.
fn quiet_radio() -> Radio {
    Radio {
        samples_per_packet: 10,
        interval_ms: 15.0,
        jitter_ms: 0.0,
        loss: 0.0,
        loss_bursts_per_min: 0.0,
        loss_burst_s: 0.0,
        repeated: 0.0,
        reordered: 0.0,
        outages: Vec::new(),
    }
}
