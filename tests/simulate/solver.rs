//! The whole set of equations against SciPy's `solve_ivp` (LSODA, 1e-8): the same equations, written
//! down a second time in `fixtures/simulate/make.py`. That checks arithmetic and integration, not
//! whether the equations are those of an engine: of that speak the libraries of gases (`gas.rs`),
//! published numbers (`orifice.rs`, `manuals.rs`), and a model of others that shares nothing with
//! this one (`fixtures/other-model`).

use super::common::{AMBIENT, bare, four_stroke, near, run_of};
use needlerest::engine::Cycle;
use needlerest::simulate::{CheckValve, Cylinder, Gasket, Machine, Ports, RunSpec, Tester};
use std::f64::consts::TAU;

/// Highest gauge pressures (cylinder, tester) of each working cycle.
fn peaks(spec: &RunSpec, cycle: f64, turns: f64) -> Vec<(f64, f64)> {
    let mut machine = Machine::new(spec).expect("a machine");
    machine.crank(true);
    let begins = spec.starts_at_deg.to_radians();
    let first = (begins / cycle + 0.5).floor();
    let mut peaks: Vec<(f64, f64)> = Vec::new();
    loop {
        let moment = machine.advance().expect("a step");
        if moment.angle - begins > turns * TAU {
            return peaks;
        }
        let at = ((moment.angle / cycle + 0.5).floor() - first) as usize;
        if peaks.len() <= at {
            peaks.push((0.0, 0.0));
        }
        peaks[at].0 = peaks[at].0.max(moment.cylinder - AMBIENT);
        peaks[at].1 = peaks[at].1.max(moment.tester - AMBIENT);
    }
}

fn wanted(case: &str) -> Vec<Vec<f64>> {
    let text = include_str!("../../fixtures/simulate/strokes.json");
    let all: serde_json::Value = serde_json::from_str(text).expect("JSON");
    serde_json::from_value(all["gauge_peaks_pa"][case].clone()).expect("peaks")
}

/// Compares the cylinder's peaks, and the tester's where there are two columns for them.
fn compare(case: &str, spec: &RunSpec, cycle_turns: f64, turns: f64, tester: bool) {
    let found = peaks(spec, cycle_turns * TAU, turns);
    let mut compared = 0;
    for (stroke, (found, row)) in found.iter().zip(wanted(case)).enumerate() {
        if row[0] < 1e4 {
            // The start, from top dead centre downwards.
            continue;
        }
        near(found.0, row[0], 2e-3, &format!("{case}, stroke {stroke}"));
        if tester {
            near(
                found.1,
                row[1],
                2e-3,
                &format!("{case}, hose, stroke {stroke}"),
            );
        }
        compared += 1;
    }
    assert!(compared > 0, "{case}: nothing was compared");
}

fn heron(rpm: f64) -> RunSpec {
    let mut engine = four_stroke(90.0, 94.0, 160.0, 9.0);
    engine.cylinders[0].ring_leak_mm2 = 0.3;
    run_of(engine, rpm)
}

#[test]
fn sealed_with_heat_loss() {
    let mut spec = heron(250.0);
    spec.engine.cylinders[0].ring_leak_mm2 = 0.0;
    spec.starts_at_deg = -130.0;
    compare("sealed", &spec, 2.0, 0.5, false);
}

#[test]
fn sealed_with_a_ring_leak() {
    let mut spec = heron(150.0);
    spec.engine.cylinders[0].ring_leak_mm2 = 2.0;
    spec.starts_at_deg = -130.0;
    compare("ring_leak", &spec, 2.0, 0.5, false);
}

#[test]
fn breathing_through_an_open_throttle() {
    compare("open_throttle", &heron(200.0), 2.0, 6.0, false);
}

#[test]
fn pumping_up_a_hose_behind_a_check_valve() {
    let mut spec = heron(200.0);
    spec.tester = Tester {
        adapter_cm3: 1.2,
        hose_cm3: 15.0,
        way_mm2: 8.0,
        check_valve: Some(CheckValve {
            cracking_kpa: 12.0,
            leak_mm2: 0.0,
        }),
        heat_w_per_k: 3.0,
        ..bare()
    };
    compare("holding", &spec, 2.0, 12.0, true);
}

#[test]
fn breathing_past_a_shut_throttle() {
    let mut spec = heron(200.0);
    spec.throttle = 0.0;
    compare("shut_throttle", &spec, 2.0, 8.0, false);
}

#[test]
fn two_cylinders_joined_by_a_leaking_gasket() {
    let mut spec = heron(200.0);
    spec.engine.cylinders.push(Cylinder {
        name: "2".to_owned(),
        fires_deg: 240.0,
        ring_leak_mm2: 0.3,
        ..Cylinder::default()
    });
    spec.engine.gaskets.push(Gasket {
        between: ["1".to_owned(), "2".to_owned()],
        leak_mm2: 4.0,
    });
    compare("gasket", &spec, 2.0, 6.0, false);
}

#[test]
fn a_two_stroke_with_its_crankcase() {
    let mut engine = four_stroke(45.0, 40.0, 76.0, 10.5);
    engine.cycle = Cycle::TwoStroke;
    engine.valves = None;
    engine.ports = Some(Ports {
        exhaust_opens_atdc: 102.0,
        transfer_opens_atdc: 120.0,
        exhaust_width_mm: 20.0,
        transfer_width_mm: 24.0,
        crankcase_ratio: 1.4,
        reed_mm2: 110.0,
    });
    engine.throttle_mm2 = 130.0;
    engine.cylinders[0].ring_leak_mm2 = 0.1;
    compare("two_stroke", &run_of(engine, 400.0), 1.0, 4.0, false);
}
