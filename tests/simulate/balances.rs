//! Mass and energy, balanced over whole runs of every family.

use super::common::bare;
use needlerest::simulate::{CheckValve, Family, Machine, RunSpec, Tester};

fn machine_of(family: Family, throttle: f64) -> RunSpec {
    let mut engine = family.engine();
    for cylinder in &mut engine.cylinders {
        cylinder.ring_leak_mm2 = 0.4;
        cylinder.intake_leak_mm2 = 0.1;
        cylinder.exhaust_leak_mm2 = 0.2;
    }
    if engine.cylinders.len() > 1 {
        engine.gaskets.push(needlerest::simulate::Gasket {
            between: ["1".to_owned(), "2".to_owned()],
            leak_mm2: 1.0,
        });
    }
    let mut spec = super::common::run_of(engine, 200.0);
    spec.turning = family.turning();
    spec.throttle = throttle;
    spec.tester = Tester {
        adapter_cm3: 0.5,
        hose_cm3: 6.0,
        way_mm2: 8.0,
        check_valve: Some(CheckValve {
            cracking_kpa: 10.0,
            leak_mm2: 0.01,
        }),
        leak_mm2: 0.02,
        heat_w_per_k: 4.0,
        ..bare()
    };
    spec
}

/// What came in is what is there, and what energy came in, went out as heat and work, or is
/// there: to 1e-9 of what was turned over.
#[test]
fn mass_and_energy_close() {
    for family in Family::ALL {
        for throttle in [1.0, 0.0] {
            let spec = machine_of(family, throttle);
            let mut machine = Machine::new(&spec).expect("a machine");
            let (mass, energy) = machine.content();
            machine.crank(true);
            let (mut moved, mut work) = (0.0_f64, 0.0_f64);
            while machine.time() < 3.0 {
                machine.advance().expect("a step");
                let ledger = machine.ledger();
                moved = moved.max(ledger.mass_in.abs());
                work = work.max(ledger.work_out.abs()).max(ledger.heat_out.abs());
            }
            machine.crank(false);
            machine.bleed(true);
            while machine.time() < 4.5 {
                machine.advance().expect("a step");
            }
            let ledger = machine.ledger();
            let (mass_now, energy_now) = machine.content();
            let mass_error = mass_now - mass - ledger.mass_in;
            let energy_error =
                energy_now - energy - ledger.enthalpy_in + ledger.heat_out + ledger.work_out;
            assert!(work > 0.0 && moved > 0.0);
            assert!(mass_error.abs() < 1e-9 * mass, "{family:?}: {mass_error}");
            assert!(
                energy_error.abs() < 1e-9 * energy,
                "{family:?}: {energy_error}"
            );
        }
    }
}

/// Half the step changes what the tester settles at by less than 0.05 %.
#[test]
fn half_the_step_changes_nothing() {
    for family in Family::ALL {
        let settled = |step_ms: f64| {
            let mut spec = machine_of(family, 1.0);
            spec.turning = needlerest::simulate::Turning::Steady { rpm: 250.0 };
            spec.step_ms = step_ms;
            let mut machine = Machine::new(&spec).expect("a machine");
            machine.crank(true);
            let mut highest = 0.0_f64;
            while machine.time() < 12.0 {
                highest = highest.max(machine.advance().expect("a step").tester);
            }
            highest - machine.ambient()
        };
        super::common::near(settled(0.4), settled(0.2), 5e-4, family.label());
    }
}
