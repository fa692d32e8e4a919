//! The tester: pump-up, cracking pressure, leaks, bleeding.

use super::common::{AMBIENT, isothermal_hose, near, reference, run_of};
use needlerest::simulate::{CheckValve, Gas, RunSpec, TrueStroke, run};

/// Compression at constant temperature, as the table's derivation has it: walls that take all
/// heat at once.
fn isothermal(hose_cm3: f64) -> RunSpec {
    let mut spec = run_of(reference(), 100.0);
    spec.gas = Gas::ConstantGamma(1.02);
    spec.heat_factor = 5.0;
    spec.tester = isothermal_hose(hose_cm3);
    spec.starts_at_deg = 300.0;
    spec.program.strokes = 16;
    spec
}

fn strokes(spec: &RunSpec) -> Vec<TrueStroke> {
    run(spec).expect("a run").truth.strokes
}

/// Pump-up of the volume behind a check valve, derived from isothermal mixing:
/// `p_k = p∞ (1 − ρ^k)`, `ρ = Vg/(Vg + Vc)`, Vc = 55.6 cm³.
#[test]
fn pump_up_of_the_hose() {
    let table: [(f64, [f64; 4]); 4] = [
        (5.0, [91.7, 99.3, 99.9, 100.0]),
        (10.0, [84.7, 97.7, 99.6, 99.9]),
        (20.0, [73.5, 93.0, 98.1, 99.5]),
        (30.0, [64.9, 87.7, 95.7, 98.5]),
    ];
    for (hose, row) in table {
        let strokes = strokes(&isothermal(hose));
        let last = strokes[15].shown_peak;
        for (stroke, wanted) in strokes.iter().zip(row) {
            let found = 100.0 * (stroke.shown_peak / last);
            assert!((found - wanted).abs() < 2.0, "{hose} cm³: {found} {wanted}");
        }
    }
}

/// Real air in a real hose fills more slowly: the gas arrives hot and shrinks. The order stays.
#[test]
fn a_larger_hose_fills_more_slowly() {
    let first_share = |hose: f64| {
        let mut spec = run_of(reference(), 200.0);
        spec.starts_at_deg = 300.0;
        spec.tester = isothermal_hose(hose);
        spec.tester.heat_w_per_k = hose;
        let truth = run(&spec).expect("a run").truth;
        truth.strokes[0].shown_peak / truth.plateau
    };
    let shares: Vec<f64> = [5.0, 10.0, 20.0, 30.0]
        .into_iter()
        .map(first_share)
        .collect();
    assert!(shares.is_sorted_by(|a, b| a > b), "{shares:?}");
}

/// What the check valve needs to open is missing from the reading.
#[test]
fn cracking_pressure_is_missing_from_the_reading() {
    let plateau = |cracking_kpa: f64| {
        let mut spec = run_of(reference(), 200.0);
        spec.tester = isothermal_hose(8.0);
        spec.tester.check_valve = Some(CheckValve {
            cracking_kpa,
            leak_mm2: 0.0,
        });
        run(&spec).expect("a run").truth.plateau.kpa()
    };
    let lost = plateau(2.0) - plateau(52.0);
    assert!((45.0..55.0).contains(&lost), "{lost}");
}

/// A tight tester holds; one that leaks falls, and settles lower; bleeding empties it.
#[test]
fn holding_leaking_and_bleeding() {
    let held = |leak_mm2: f64| {
        let mut spec = run_of(reference(), 200.0);
        spec.tester = isothermal_hose(8.0);
        spec.tester.leak_mm2 = leak_mm2;
        spec.program.hold_s = 4.0;
        let trace = run(&spec).expect("a run");
        let at = |time: f64| {
            let found = trace.samples.iter().find(|s| s.time.s() >= time);
            found.expect("a sample").pressure.pa()
        };
        let bled = trace.truth.bled_at.s();
        (
            at(bled - 2.0),
            at(bled - 0.01),
            at(bled + 0.9),
            trace.truth.plateau.pa(),
        )
    };
    let (early, late, after, tight) = held(0.0);
    near(late, early, 1e-4, "a tight tester holds");
    assert!(after.abs() < 200.0, "bled: {after}");
    let (early, late, _, leaky) = held(0.05);
    assert!(late < 0.9 * early, "a leaking one falls: {early} {late}");
    assert!(leaky < tight);
}

/// Without a check valve the reading falls between the strokes, and the hose is dead volume.
#[test]
fn following_rig() {
    let mut spec = run_of(reference(), 200.0);
    spec.tester.hose_cm3 = 3.0;
    spec.tester.way_mm2 = 20.0;
    let hose = run(&spec).expect("a run").truth;
    // A stroke is seen once the cylinder is 8 kPa up.
    assert!(hose.strokes[3].held.pa() < 12e3);
    // 3 cm³ of dead volume read 0.938 of the whole, by the table of dead volumes (n = 1.3).
    near(hose.plateau / hose.perfect_gauge, 0.938, 0.01, "3 cm³");
    assert!(hose.plateau.pa() + AMBIENT > 1.2e6);
}
