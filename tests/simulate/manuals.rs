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

/// TM 5-2420-230-24-2, p. 14-22: a diesel reads 350 psi when new and 300 psi when used, at
/// 250 rpm. A cylinder of about 0.95 litre with a ratio of 17 (from memory). A tight one reads
/// much more here; the manual's figures are those of ring leaks of 3 mm² and 4 mm².
#[test]
fn a_diesel() {
    let at = |leak: f64| {
        let diesel = |spec: &mut RunSpec| {
            spec.engine.cylinders[0].ring_leak_mm2 = leak;
            // The adapter stands in for the injector: its bore is part of the room.
            spec.tester.adapter_cm3 = 5.0;
            if let Some(valves) = &mut spec.engine.valves {
                valves.intake_closes_abdc = 45.0;
            }
        };
        reading(diesel, [97.0, 128.0, 17.0, 250.0])
    };
    let (tight, new, used) = (at(0.6), at(3.0), at(4.0));
    println!("diesel: {tight:.1} psi tight, {new:.1} psi at 3 mm², {used:.1} psi at 4 mm²");
    assert!(tight > new && tight < 1.5 * 350.0, "{tight}");
    assert!((new / 350.0 - 1.0).abs() < 0.1, "{new}");
    assert!((used / 300.0 - 1.0).abs() < 0.1, "{used}");
}
