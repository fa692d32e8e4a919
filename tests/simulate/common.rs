//! Engines and runs that the tests share.

pub use crate::engine::four_stroke;

use needlerest::engine::Condition;
use needlerest::simulate::{
    CheckValve, Engine, Gas, Machine, Moment, Program, Radio, RunSpec, Sensor, Surroundings,
    Tester, Turning,
};

/// 101.325 kPa, the ambient pressure of all tests that do not say another.
pub const AMBIENT: f64 = 101_325.0;
/// Pascal in a psi.
pub const PSI: f64 = 6_894.757_293_168;

/// The reference cylinder of the tables: 500 cm³, ratio 10, rod 3.5 throws, intake closes 60°
/// after bottom dead centre.
pub fn reference() -> Engine {
    of_volume(500.0)
}

/// As [`reference`], of another swept volume in cm³; bore and stroke are equal.
pub fn of_volume(cm3: f64) -> Engine {
    let bore = 10.0 * libm::cbrt(cm3 * 4.0 / std::f64::consts::PI);
    let mut engine = four_stroke(bore, bore, 1.75 * bore, 10.0);
    if let Some(valves) = &mut engine.valves {
        valves.intake_closes_abdc = 60.0;
    }
    engine
}

/// No tester at all: the sensor sits in the cylinder.
pub fn bare() -> Tester {
    Tester {
        adapter_cm3: 0.0,
        hose_cm3: 0.0,
        way_mm2: 10.0,
        check_valve: None,
        leak_mm2: 0.0,
        heat_w_per_k: 0.0,
        bleed_mm2: 3.0,
    }
}

/// A hose behind a check valve that opens at 1 kPa, with walls that keep its gas at 20 °C.
pub fn isothermal_hose(hose_cm3: f64) -> Tester {
    Tester {
        hose_cm3,
        way_mm2: 40.0,
        check_valve: Some(CheckValve {
            cracking_kpa: 1.0,
            leak_mm2: 0.0,
        }),
        heat_w_per_k: 50.0,
        ..bare()
    }
}

/// A sensor without any error.
pub fn perfect_sensor(rate_hz: f64) -> Sensor {
    Sensor {
        rate_hz,
        lag_ms: 0.0,
        resolution_kpa: 0.0,
        range_min_kpa: -200.0,
        range_max_kpa: 10_000.0,
        noise_kpa: 0.0,
        slow_noise_kpa: 0.0,
        slow_noise_s: 1.0,
        offset_kpa: 0.0,
        span_error: 0.0,
        warm_up_kpa: 0.0,
        warm_up_s: 60.0,
        clock_ppm: 0.0,
    }
}

/// A radio without any fault.
pub fn perfect_radio() -> Radio {
    Radio {
        samples_per_packet: 10,
        interval_ms: 7.5,
        jitter_ms: 0.0,
        loss: 0.0,
        loss_bursts_per_min: 0.0,
        loss_burst_s: 0.0,
        repeated: 0.0,
        reordered: 0.0,
        outages: Vec::new(),
    }
}

/// A run of an engine at a steady speed, cold, with nothing wrong.
pub fn run_of(engine: Engine, rpm: f64) -> RunSpec {
    RunSpec {
        engine,
        cylinder: "1".to_owned(),
        condition: Condition::ColdDry,
        wall_celsius: 20.0,
        oil: None,
        surroundings: Surroundings {
            ambient_kpa: AMBIENT / 1e3,
            air_celsius: 20.0,
        },
        throttle: 1.0,
        plugs_in: false,
        turning: Turning::Steady { rpm },
        starts_at_deg: 0.0,
        tester: bare(),
        sensor: perfect_sensor(500.0),
        radio: perfect_radio(),
        program: Program {
            quiet_s: 0.5,
            strokes: 8,
            crank_at_most_s: 30.0,
            hold_s: 1.0,
            bleed_s: 0.5,
            rest_s: 0.5,
        },
        seed: 1,
        step_ms: 0.4,
        heat_factor: 1.0,
        gas: Gas::Air,
    }
}

/// The reference cylinder as the tables have it: a gas of one exponent, no heat, sealed from the
/// moment the intake closes.
pub fn polytropic(engine: Engine, rpm: f64) -> RunSpec {
    let mut spec = run_of(engine, rpm);
    spec.gas = Gas::ConstantGamma(1.3);
    spec.heat_factor = 0.0;
    spec.starts_at_deg = 600.0 - 720.0;
    spec
}

/// Cranks for so many turns and shows every moment.
pub fn crank(spec: &RunSpec, turns: f64, mut watch: impl FnMut(&Moment)) -> Machine {
    let mut machine = Machine::new(spec).expect("a possible machine");
    machine.crank(true);
    let begins = spec.starts_at_deg.to_radians();
    loop {
        let moment = machine.advance().expect("a step that converges");
        watch(&moment);
        if moment.angle - begins >= turns * std::f64::consts::TAU {
            return machine;
        }
    }
}

/// Highest gauge pressure (Pa) in the cylinder and its angle (rad) while it cranks for so many
/// turns.
pub fn peak(spec: &RunSpec, turns: f64) -> (f64, f64) {
    let mut best = (0.0, 0.0);
    crank(spec, turns, |moment| {
        if moment.cylinder - AMBIENT > best.0 {
            best = (moment.cylinder - AMBIENT, moment.angle);
        }
    });
    best
}

/// Fails unless `found` is within a share of `wanted`.
#[track_caller]
pub fn near(found: f64, wanted: f64, share: f64, what: &str) {
    assert!(
        (found / wanted - 1.0).abs() <= share,
        "{what}: {found} instead of {wanted} ({:+.3} %)",
        100.0 * (found / wanted - 1.0)
    );
}
