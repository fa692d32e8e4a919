//! The population: runs of random engines, testers, sensors and people.
//!
//! *Ordinary* is what the decision is judged by: a sensor of 20 samples a second and more behind a
//! check valve, of 100 and more without; resolution and noise of 1 kPa or better; a sound tester and
//! a range that suffices. Engines are sound, worn, leaky, wet or throttled; batteries are full or
//! weak. *Odd* is the rest.

use super::case::Who;
use crate::draws::Draws;
use needlerest::engine::{Condition, Cycle};
use needlerest::signal::Rig;
use needlerest::simulate::{
    Bursts, CheckValve, Engine, Family, Gas, Oil, Program, Radio, RunSpec, Sensor, Surroundings,
    Tester, Turning,
};

/// Who turns the engine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Starter {
    Electric,
    Kick,
    PullCord,
    HandCrank,
}

/// What is wrong, with the engine or with the test.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Fault {
    None,
    Rings,
    Valve,
    ThrottleShut,
    Wet,
    WeakBattery,
    TesterLeak,
    CheckValveLeak,
    LargeHose,
    PacketLoss,
    StoppedEarly,
    NoisySensor,
    Drifting,
}

impl Fault {
    const ORDINARY: [Self; 6] = [
        Self::None,
        Self::Rings,
        Self::Valve,
        Self::ThrottleShut,
        Self::Wet,
        Self::WeakBattery,
    ];
    const ODD: [Self; 7] = [
        Self::TesterLeak,
        Self::CheckValveLeak,
        Self::LargeHose,
        Self::PacketLoss,
        Self::StoppedEarly,
        Self::NoisySensor,
        Self::Drifting,
    ];
}

/// A run to be simulated, and what it is filed under.
pub(super) struct Drawn {
    pub(super) spec: RunSpec,
    pub(super) rig: Rig,
    pub(super) who: Who,
    pub(super) odd: bool,
    /// A card says how the engine is turned.
    pub(super) card: bool,
    pub(super) about: String,
}

/// The run of this index.
pub(super) fn draw(seed: u64, index: u64, with_odd: bool) -> Drawn {
    let mut d = Draws::new(seed, index);
    let starter = d.pick(
        &[
            Starter::Electric,
            Starter::Electric,
            Starter::HandCrank,
            Starter::Kick,
            Starter::PullCord,
        ],
        Starter::Electric,
    );
    let rig = if d.chance(0.67) {
        Rig::Holding
    } else {
        Rig::Following
    };
    let odd = with_odd && d.chance(0.7);
    let rate_hz = match (rig, odd) {
        (Rig::Holding, false) => d.pick(&[20.0, 50.0, 100.0, 200.0, 500.0], 100.0),
        (Rig::Following, false) => d.pick(&[100.0, 200.0, 500.0, 1000.0], 200.0),
        (Rig::Holding, true) => d.pick(&[5.0, 10.0, 20.0, 100.0], 10.0),
        (Rig::Following, true) => d.pick(&[20.0, 50.0, 100.0, 500.0], 50.0),
    };
    let fault = draw_fault(&mut d, starter, rig, odd);
    let (engine, turning) = machine(&mut d, starter, fault);
    let tester = tester(&mut d, rig, fault, &engine);
    let sensor = sensor(&mut d, rig, rate_hz, odd, fault);
    let program = program(&mut d, turning, fault);
    let wet = fault == Fault::Wet;
    let warm = d.chance(0.5);
    let card = d.chance(0.5);
    let about = format!(
        "{starter:?} {fault:?} {rate_hz} Hz noise {:.0} Pa step {:.0} Pa card {card}",
        1e3 * sensor.noise_kpa,
        1e3 * sensor.resolution_kpa
    );
    let spec = RunSpec {
        cylinder: "1".to_owned(),
        condition: match (wet, warm) {
            (true, _) => Condition::Wet,
            (_, true) => Condition::WarmDry,
            _ => Condition::ColdDry,
        },
        wall_celsius: if warm {
            d.between(50.0, 90.0)
        } else {
            d.between(5.0, 30.0)
        },
        oil: wet.then(|| Oil {
            ml: swept_cm3(&engine) * d.between(0.004, 0.012),
            ring_share: d.between(0.2, 0.5),
            seals_for_strokes: d.between(15.0, 60.0),
            stays_for_strokes: d.between(5.0, 25.0),
        }),
        surroundings: Surroundings {
            ambient_kpa: d.between(80.0, 103.0),
            air_celsius: d.between(0.0, 30.0),
        },
        throttle: if fault == Fault::ThrottleShut {
            0.0
        } else {
            1.0
        },
        plugs_in: false,
        turning,
        starts_at_deg: d.between(0.0, 720.0),
        tester,
        sensor,
        radio: radio(&mut d, rate_hz, fault),
        program,
        seed: d.seed(),
        step_ms: 0.8,
        heat_factor: 1.0,
        gas: Gas::Air,
        engine,
    };
    Drawn {
        spec,
        rig,
        who: match starter {
            Starter::Electric => Who::Starter,
            Starter::HandCrank => Who::HandCrank,
            Starter::Kick | Starter::PullCord => Who::Kicks,
        },
        odd,
        card,
        about,
    }
}

fn draw_fault(d: &mut Draws, starter: Starter, rig: Rig, odd: bool) -> Fault {
    if !odd && d.chance(0.4) {
        return Fault::None;
    }
    loop {
        let fault = if odd {
            d.pick(&Fault::ODD, Fault::None)
        } else {
            d.pick(&Fault::ORDINARY, Fault::None)
        };
        let fits = match fault {
            Fault::TesterLeak | Fault::CheckValveLeak | Fault::LargeHose => rig == Rig::Holding,
            Fault::WeakBattery => starter == Starter::Electric,
            _ => true,
        };
        if fits {
            return fault;
        }
    }
}

fn swept_cm3(engine: &Engine) -> f64 {
    std::f64::consts::PI / 4.0 * engine.bore_mm * engine.bore_mm * engine.stroke_mm / 1e3
}

/// An engine of a family that is turned this way, a little different each time.
fn machine(d: &mut Draws, starter: Starter, fault: Fault) -> (Engine, Turning) {
    let family = match starter {
        Starter::Electric => d.pick(&[Family::Twin, Family::Irrigation], Family::Twin),
        Starter::Kick => Family::Moped,
        Starter::PullCord => d.pick(&[Family::TrashPump, Family::Utility], Family::Utility),
        Starter::HandCrank => Family::LightingSet,
    };
    let mut engine = family.engine();
    let grows = d.between(0.9, 1.12);
    engine.bore_mm *= grows;
    engine.stroke_mm *= grows;
    engine.rod_mm *= grows;
    engine.compression_ratio *= d.between(0.88, 1.08);
    engine.friction_kpa *= d.between(0.8, 1.2);
    if let Some(valves) = &mut engine.valves {
        valves.intake_closes_abdc += d.between(-8.0, 10.0);
    }
    // Leaks are given for 500 cm³ and grow with the engine.
    let size = swept_cm3(&engine) / 500.0;
    let two_stroke = engine.cycle == Cycle::TwoStroke;
    if let Some(cylinder) = engine.cylinders.first_mut() {
        cylinder.ring_leak_mm2 = size * d.between(0.1, 0.5);
        let leak = size * d.between(0.4, 2.0);
        match fault {
            Fault::Rings | Fault::Wet => cylinder.ring_leak_mm2 += leak,
            Fault::Valve if !two_stroke && d.chance(0.5) => cylinder.intake_leak_mm2 = leak,
            Fault::Valve => cylinder.exhaust_leak_mm2 = leak,
            _ => {}
        }
    }
    let battery = match fault {
        Fault::WeakBattery => d.between(0.65, 0.8),
        _ => d.between(0.9, 1.0),
    };
    let turning = vary(d, family.turning(), battery);
    (engine, turning)
}

/// Nobody's strength and habits are the same.
fn vary(d: &mut Draws, turning: Turning, charge: f64) -> Turning {
    let bursts = |d: &mut Draws, usual: Bursts| Bursts {
        torque_nm: usual.torque_nm * d.between(1.0, 1.6),
        free_rpm: usual.free_rpm * d.between(0.8, 1.15),
        turns: usual.turns * d.between(0.8, 1.4),
        pause_s: usual.pause_s * d.between(0.4, 1.8),
        variation: d.between(0.05, 0.2),
    };
    match turning {
        Turning::Electric {
            stall_nm, free_rpm, ..
        } => Turning::Electric {
            stall_nm: stall_nm * d.between(0.9, 1.3),
            free_rpm: free_rpm * d.between(0.85, 1.15),
            battery: charge,
        },
        Turning::Kick(usual) => Turning::Kick(bursts(d, usual)),
        Turning::PullCord(usual) => Turning::PullCord(bursts(d, usual)),
        Turning::HandCrank {
            torque_nm,
            free_rpm,
            ..
        } => Turning::HandCrank {
            torque_nm: torque_nm * d.between(1.0, 1.5),
            free_rpm: free_rpm * d.between(0.8, 1.15),
            variation: d.between(0.03, 0.12),
        },
        steady @ Turning::Steady { .. } => steady,
    }
}

fn tester(d: &mut Draws, rig: Rig, fault: Fault, engine: &Engine) -> Tester {
    let clearance = swept_cm3(engine) / (engine.compression_ratio - 1.0);
    let holding = rig == Rig::Holding;
    let hose = match (holding, fault) {
        (false, _) => 0.0,
        (_, Fault::LargeHose) => clearance * d.between(1.5, 3.0),
        // Volume behind the valve as a share of the clearance sets the build-up.
        _ => clearance * d.decades(0.08, 0.9),
    };
    Tester {
        adapter_cm3: (clearance * 0.05).clamp(0.1, 2.0) * d.between(0.5, 1.5),
        hose_cm3: hose,
        way_mm2: if holding { d.between(2.0, 8.0) } else { 0.0 },
        check_valve: holding.then(|| CheckValve {
            cracking_kpa: d.between(3.0, 30.0),
            leak_mm2: if fault == Fault::CheckValveLeak {
                d.decades(0.001, 0.02) * hose / 20.0
            } else {
                0.0
            },
        }),
        leak_mm2: match fault {
            Fault::TesterLeak => d.decades(0.0005, 0.01) * hose / 20.0,
            _ => 0.0,
        },
        heat_w_per_k: if holding { d.decades(0.003, 0.3) } else { 0.0 },
        bleed_mm2: if holding { d.between(0.5, 2.0) } else { 0.0 },
    }
}

fn sensor(d: &mut Draws, rig: Rig, rate_hz: f64, odd: bool, fault: Fault) -> Sensor {
    let range = d.pick(&[2500.0, 3500.0], 2500.0);
    let resolution = if odd {
        d.pick(&[0.1, 1.0, 3.447, 6.895], 1.0)
    } else {
        d.pick(&[0.0001, 0.1, 0.345, 0.5, 0.689, 1.0], 0.5)
    };
    Sensor {
        rate_hz,
        // A slower sensor rounds off the peaks of a following rig; its data sheet says so.
        lag_ms: match rig {
            Rig::Holding => d.decades(0.2, 5.0),
            Rig::Following => d.decades(0.1, 0.6),
        },
        resolution_kpa: resolution,
        range_min_kpa: -100.0,
        range_max_kpa: range,
        noise_kpa: if fault == Fault::NoisySensor {
            d.between(1.5, 8.0)
        } else {
            d.decades(0.1, 1.0)
        },
        slow_noise_kpa: range * 0.0001,
        slow_noise_s: 1.0,
        offset_kpa: 4.0 * d.normal(),
        // Common to all runs of a sensor: no part of what a repeat reads.
        span_error: 0.0,
        warm_up_kpa: if fault == Fault::Drifting {
            range * d.between(0.002, 0.006)
        } else {
            0.0
        },
        warm_up_s: 30.0,
        clock_ppm: 30.0 * d.normal(),
    }
}

fn radio(d: &mut Draws, rate_hz: f64, fault: Fault) -> Radio {
    let lossy = fault == Fault::PacketLoss;
    Radio {
        samples_per_packet: if rate_hz < 50.0 {
            1
        } else {
            (rate_hz * 0.04) as u32
        },
        interval_ms: 30.0,
        jitter_ms: 5.0,
        loss: if lossy { d.decades(0.01, 0.1) } else { 0.0005 },
        loss_bursts_per_min: if lossy { d.between(0.0, 6.0) } else { 0.0 },
        loss_burst_s: 0.15,
        repeated: 0.0,
        reordered: 0.0,
        outages: Vec::new(),
    }
}

fn program(d: &mut Draws, turning: Turning, fault: Fault) -> Program {
    /// Time that a kick or a pull takes (s), about.
    const KICK_S: f64 = 0.8;
    let (strokes, seconds) = match turning {
        Turning::Kick(usual) | Turning::PullCord(usual) => {
            (1000.0, d.between(9.5, 18.0) * (usual.pause_s + KICK_S))
        }
        Turning::HandCrank { .. } => (d.between(12.0, 26.0), 90.0),
        _ => (d.between(8.0, 18.0), 60.0),
    };
    let early = fault == Fault::StoppedEarly;
    Program {
        quiet_s: d.between(1.0, 3.0),
        strokes: if early {
            d.between(1.0, 5.0) as u32
        } else {
            strokes as u32
        },
        crank_at_most_s: seconds,
        hold_s: d.between(1.5, 6.0),
        bleed_s: 2.0,
        rest_s: 1.0,
    }
}
