//! Speed follows from torque.

use super::common::{bare, run_of};
use needlerest::simulate::{Family, Machine, RunSpec, RunTrace, Turning, run};

fn family(family: Family) -> RunSpec {
    let mut engine = family.engine();
    for cylinder in &mut engine.cylinders {
        cylinder.ring_leak_mm2 = 0.1;
    }
    let mut spec = run_of(engine, 200.0);
    spec.turning = family.turning();
    spec.starts_at_deg = 200.0;
    spec
}

/// Mean interval of the strokes after the first three, in s.
fn interval(trace: &RunTrace) -> f64 {
    let strokes = &trace.truth.strokes[3..];
    let span = strokes.last().expect("strokes").time - strokes[0].time;
    span.s() / (strokes.len() - 1) as f64
}

/// Mean crank speed from the fourth second to the twentieth, in turns a minute.
fn mean_rpm(spec: &RunSpec) -> f64 {
    let mut machine = Machine::new(spec).expect("a machine");
    machine.crank(true);
    let mut from = None;
    loop {
        let moment = machine.advance().expect("a step");
        let (time, angle) = (moment.time, moment.angle);
        if time >= 4.0 {
            let (begun, at) = *from.get_or_insert((time, angle));
            if time >= 20.0 {
                return (angle - at) / std::f64::consts::TAU / (time - begun) * 60.0;
            }
        }
    }
}

fn made(spec: &RunSpec) -> RunTrace {
    run(spec).expect("a run")
}

/// A leak is felt at the top of the stroke, where the crank is braked less. Over a whole turn a
/// moderate leak hardly matters: what the gas takes on the way up it gives back on the way down,
/// less what leaked. With no compression left the whole turn is faster.
#[test]
fn a_leaky_cylinder_is_cranked_faster() {
    let leaking = |leak_mm2: f64| {
        let mut spec = family(Family::Irrigation);
        spec.engine.cylinders[0].exhaust_leak_mm2 = leak_mm2;
        let trace = made(&spec);
        (trace.truth.strokes[5].crank.per_min(), interval(&trace))
    };
    let (sound, leaky, open) = (leaking(0.0), leaking(6.0), leaking(40.0));
    assert!(
        leaky.0 > 1.3 * sound.0 && open.0 > leaky.0,
        "{sound:?} {leaky:?} {open:?}"
    );
    assert!(
        (leaky.1 / sound.1 - 1.0).abs() < 0.03,
        "{sound:?} {leaky:?}"
    );
    assert!(open.1 < 0.97 * sound.1, "{sound:?} {open:?}");
}

/// The same for an arm. The sizes: without any compression the mean speed is where the mean torque
/// of the drive meets friction (torque balance over whole turns, closed form), and a sound
/// cylinder stays below that.
#[test]
fn without_compression_speed_is_where_drive_meets_friction() {
    for kind in [Family::LightingSet, Family::Irrigation] {
        let leaking = |leak_mm2: f64| {
            let mut spec = family(kind);
            for cylinder in &mut spec.engine.cylinders {
                cylinder.exhaust_leak_mm2 = leak_mm2;
            }
            if let Turning::HandCrank { variation, .. } = &mut spec.turning {
                *variation = 0.0;
            }
            mean_rpm(&spec)
        };
        let spec = family(kind);
        let engine = &spec.engine;
        let litres =
            std::f64::consts::PI / 4.0 * engine.bore_mm * engine.bore_mm * engine.stroke_mm * 1e-6;
        // Friction mean effective pressure at 80 °C, twice for every 60 K below.
        let kpa = engine.friction_kpa * libm::exp2((80.0 - spec.wall_celsius) / 60.0);
        let friction = kpa * litres * engine.cylinders.len() as f64 / (4.0 * std::f64::consts::PI);
        let (stall, free) = match spec.turning {
            Turning::Electric {
                stall_nm, free_rpm, ..
            } => (stall_nm, free_rpm),
            Turning::HandCrank {
                torque_nm,
                free_rpm,
                ..
            } => (torque_nm, free_rpm),
            other => panic!("{other:?}"),
        };
        let balance = free * (1.0 - friction / stall);
        let (sound, open) = (leaking(0.0), leaking(400.0));
        assert!(open > 1.02 * sound, "{kind:?}: {sound} {open}");
        assert!(sound < balance, "{kind:?}: {sound} {balance}");
        assert!(
            (open / balance - 1.0).abs() < 0.1,
            "{kind:?}: {open} rpm, balance {balance} rpm"
        );
    }
}

#[test]
fn a_weak_battery_and_cold_oil_crank_slower() {
    let sound = family(Family::Irrigation);
    let usual = interval(&made(&sound));
    let mut weak = sound.clone();
    if let Turning::Electric { battery, .. } = &mut weak.turning {
        *battery = 0.7;
    }
    assert!(interval(&made(&weak)) > 1.3 * usual);
    let mut cold = sound;
    cold.wall_celsius = -15.0;
    assert!(interval(&made(&cold)) > 1.05 * usual);
}

/// The speed sinks towards top dead centre and rises after it.
#[test]
fn compression_brakes_the_crank() {
    let spec = family(Family::Irrigation);
    let (mut before, mut at) = (0.0_f64, f64::MAX);
    needlerest::simulate::run_watched(&spec, |moment| {
        let degrees = moment.angle.to_degrees().rem_euclid(720.0);
        if moment.time > 2.0 && moment.time < 4.0 {
            if (600.0..640.0).contains(&degrees) {
                before = before.max(moment.speed);
            }
            if degrees > 700.0 {
                at = at.min(moment.speed);
            }
        }
    })
    .expect("a run");
    assert!(before > 1.3 * at, "{before} {at}");
}

/// Kicks and pulls come in bursts with pauses of seconds, no two alike.
#[test]
fn kicks_and_pulls_come_in_bursts() {
    for kind in [Family::Moped, Family::TrashPump, Family::Utility] {
        let mut spec = family(kind);
        spec.program.strokes = 14;
        let strokes = made(&spec).truth.strokes;
        let gaps: Vec<f64> = strokes
            .windows(2)
            .map(|w| (w[1].time - w[0].time).s())
            .collect();
        let pauses: Vec<f64> = gaps.iter().copied().filter(|gap| *gap > 0.8).collect();
        let quick = gaps.iter().filter(|gap| **gap < 0.4).count();
        assert!(pauses.len() >= 2 && quick >= 2, "{kind:?}: {gaps:?}");
        assert!((pauses[0] - pauses[1]).abs() > 1e-3, "{pauses:?}");
        assert!(strokes.iter().any(|s| s.complete) && strokes.iter().any(|s| !s.complete));
    }
}

/// A hand crank is slow, and the arm swells and ebbs.
#[test]
fn a_hand_crank_is_slow() {
    let strokes = made(&family(Family::LightingSet)).truth.strokes;
    let rpm = strokes[4].crank.per_min();
    assert!((30.0..150.0).contains(&rpm), "{rpm}");
}

/// In a four-stroke a shut throttle takes half the reading; in a two-stroke the exhaust port
/// fills the cylinder all the same.
#[test]
fn a_shut_throttle() {
    let share = |kind: Family| {
        let open = family(kind);
        let mut shut = open.clone();
        shut.throttle = 0.0;
        made(&shut).truth.perfect_gauge / made(&open).truth.perfect_gauge
    };
    assert!(share(Family::Irrigation) < 0.65);
    assert!(share(Family::TrashPump) > 0.9);
}

/// Two neighbours with a leak between them read low, the third does not.
#[test]
fn a_gasket_leak_lowers_both_neighbours() {
    let mut spec = family(Family::Irrigation);
    spec.engine.gaskets.push(needlerest::simulate::Gasket {
        between: ["1".to_owned(), "2".to_owned()],
        leak_mm2: 4.0,
    });
    let reading = |name: &str| {
        let mut spec = spec.clone();
        spec.cylinder = name.to_owned();
        made(&spec).truth.plateau.pa()
    };
    let (one, two, three) = (reading("1"), reading("2"), reading("3"));
    assert!((one / two - 1.0).abs() < 0.05, "{one} {two}");
    assert!(one < 0.75 * three, "{one} {three}");
}

/// Oil seals worn rings and hardly helps a valve.
#[test]
fn oil_tells_rings_from_valves() {
    let gain = |ring: f64, valve: f64| {
        let mut dry = family(Family::Irrigation);
        dry.tester = bare();
        dry.engine.cylinders[0].ring_leak_mm2 += ring;
        dry.engine.cylinders[0].exhaust_leak_mm2 += valve;
        let mut wet = dry.clone();
        wet.oil = Some(needlerest::simulate::Oil {
            ml: 5.0,
            ring_share: 0.15,
            seals_for_strokes: 60.0,
            stays_for_strokes: 8.0,
        });
        made(&wet).truth.plateau / made(&dry).truth.plateau
    };
    let (rings, valve, sound) = (gain(4.0, 0.0), gain(0.0, 4.0), gain(0.0, 0.0));
    assert!(rings > 1.3, "{rings}");
    assert!(valve < 1.1 && sound < 1.1, "{valve} {sound}");
    // A sound cylinder gains a little too: the oil takes up room.
    assert!(sound > 1.01, "{sound}");
}

#[test]
fn an_engine_too_heavy_to_turn_is_said_so() {
    let mut spec = family(Family::Irrigation);
    spec.turning = Turning::Electric {
        stall_nm: 5.0,
        free_rpm: 300.0,
        battery: 1.0,
    };
    spec.program.crank_at_most_s = 3.0;
    let error = run(&spec).expect_err("it stalls").to_string();
    assert!(error.contains("does not get over compression"), "{error}");
}
