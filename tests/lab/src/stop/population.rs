//! The population: runs of random engines, testers, sensors and people.
//!
//! *Ordinary* is what the decision is judged by: a sensor of 20 samples a second and more behind a
//! check valve, of 100 and more without; resolution and noise of 1 kPa or better; a sound tester and
//! a range that suffices. Engines are sound, worn, leaky, wet or throttled; batteries are full or
//! weak. *Odd* is the rest.

use super::case::Who;
use crate::draws::Draws;
use crate::parts::{self, Odd, swept_cm3};
use needlerest::engine::{Condition, Cycle};
use needlerest::signal::Rig;
use needlerest::simulate::{Engine, Family, Gas, Oil, Program, RunSpec, Surroundings, Turning};

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

    /// What is odd about tester, sensor or radio.
    const fn odd(self) -> Option<Odd> {
        match self {
            Self::TesterLeak => Some(Odd::TesterLeak),
            Self::CheckValveLeak => Some(Odd::CheckValveLeak),
            Self::LargeHose => Some(Odd::LargeHose),
            Self::PacketLoss => Some(Odd::PacketLoss),
            Self::NoisySensor => Some(Odd::NoisySensor),
            Self::Drifting => Some(Odd::Drifting),
            _ => None,
        }
    }
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
    let how = fault.odd();
    let tester = parts::tester(&mut d, rig, how, &engine);
    let sensor = parts::sensor(&mut d, rig, rate_hz, odd, how);
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
        radio: parts::radio(&mut d, rate_hz, how),
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
    let turning = parts::vary(d, family.turning(), battery);
    (engine, turning)
}

fn program(d: &mut Draws, turning: Turning, fault: Fault) -> Program {
    let (strokes, seconds) = parts::goes_on_for(d, turning);
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
