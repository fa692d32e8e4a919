//! Cranking pressures that public manuals give, against simulated engines of the kind. A manual
//! does not say what its figure depends on, so the bounds are wide; `tests/results/simulator.md`
//! discusses the differences.

use super::common::{PSI, four_stroke, run_of};
use needlerest::simulate::{CheckValve, RunSpec, Tester, run};

/// A warm, sound engine on a common tester: plateau in psi.
fn reading(change: impl Fn(&mut RunSpec), [bore, stroke, ratio, rpm]: [f64; 4]) -> f64 {
    let mut engine = four_stroke(bore, stroke, 1.75 * stroke, ratio);
    engine.cylinders[0].ring_leak_mm2 = 0.4;
    let mut spec = run_of(engine, rpm);
    spec.wall_celsius = 80.0;
    spec.program.strokes = 10;
    spec.tester = Tester {
        adapter_cm3: 2.0,
        hose_cm3: 10.0,
        way_mm2: 8.0,
        check_valve: Some(CheckValve {
            cracking_kpa: 12.0,
            leak_mm2: 0.0,
        }),
        heat_w_per_k: 10.0,
        ..super::common::bare()
    };
    change(&mut spec);
    run(&spec).expect("a run").truth.plateau.pa() / PSI
}

/// TM 10-3930-618-20, para 2-12: a petrol fork lift reads 120 to 125 psi at starting speed. The
/// manual's page gives no ratio; 6 to 6.5 is usual of industrial engines of its time (from memory).
#[test]
fn a_petrol_fork_lift() {
    let low = reading(|_| (), [87.0, 92.0, 6.0, 200.0]);
    let high = reading(|_| (), [87.0, 92.0, 6.5, 200.0]);
    println!("fork lift: {low:.1} psi at 6:1, {high:.1} psi at 6.5:1");
    assert!((low / 122.5 - 1.0).abs() < 0.08, "{low}");
    assert!(low < high && (high / 122.5 - 1.0).abs() < 0.16, "{high}");
}

/// TM 5-4310-389-14, Table 4-2, page 4-7, prints all of a diesel: bore 100 mm, stroke 120 mm, 17:1,
/// intake opening 32.5° before and closing 60.5° after the dead centres, exhaust 70.5° and 32.5°, and
/// 20 to 28 bar. A sound cylinder of these dimensions, the adapter in the injector's place, reads
/// 18 % above that range, as it does by the petrol engines of `tests/results/expected.md`.
#[test]
fn a_diesel() {
    let at = |leak: f64| {
        let diesel = |spec: &mut RunSpec| {
            spec.engine.cylinders[0].ring_leak_mm2 = leak;
            // The adapter stands in for the injector: its bore is part of the room.
            spec.tester.adapter_cm3 = 5.0;
            if let Some(valves) = &mut spec.engine.valves {
                valves.intake_opens_btdc = 32.5;
                valves.intake_closes_abdc = 60.5;
                valves.exhaust_opens_bbdc = 70.5;
                valves.exhaust_closes_atdc = 32.5;
            }
        };
        reading(diesel, [100.0, 120.0, 17.0, 250.0]) * PSI / 1e5
    };
    let (tight, sound) = (at(0.0), at(0.4));
    println!("diesel: {tight:.1} bar tight, {sound:.1} bar at 0.4 mm² past the rings");
    assert!(sound < tight);
    assert!((20.0..1.25 * 28.0).contains(&sound), "{sound}");
}
