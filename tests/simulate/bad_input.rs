//! Impossible descriptions are refused, by the name of the field.

use super::common::{reference, run_of};
use needlerest::simulate::{Oil, Recipe, RunSpec, SimulateError, run};

fn refused(change: impl Fn(&mut RunSpec)) -> String {
    let mut spec = run_of(reference(), 200.0);
    change(&mut spec);
    match run(&spec) {
        Err(SimulateError::Impossible { field, why }) => {
            assert!(!why.is_empty());
            field
        }
        other => panic!("not refused: {other:?}"),
    }
}

#[test]
fn impossible_engines() {
    let field = refused(|s| s.engine.cylinders[0].deposits_cm3 = 60.0);
    assert_eq!(field, "engine.cylinder[1].deposits_cm3");
    assert_eq!(refused(|s| s.engine.rod_mm = 40.0), "engine.rod_mm");
    assert_eq!(
        refused(|s| s.engine.compression_ratio = 0.9),
        "engine.compression_ratio"
    );
    assert_eq!(refused(|s| s.engine.bore_mm = f64::NAN), "engine.bore_mm");
    assert_eq!(refused(|s| s.engine.valves = None), "engine.valves");
    assert_eq!(refused(|s| s.engine.cylinders.clear()), "engine.cylinder");
    assert_eq!(refused(|s| s.cylinder = "7".to_owned()), "cylinder");
    let never_opens = refused(|s| {
        if let Some(valves) = &mut s.engine.valves {
            valves.intake_closes_abdc = -175.0;
        }
    });
    assert_eq!(never_opens, "engine.valves.intake_closes_abdc");
    let no_area = refused(|s| {
        if let Some(valves) = &mut s.engine.valves {
            valves.exhaust_mm2 = 0.0;
        }
    });
    assert_eq!(no_area, "engine.valves.exhaust_mm2");
}

#[test]
fn impossible_tests() {
    assert_eq!(refused(|s| s.throttle = 1.5), "throttle");
    assert_eq!(refused(|s| s.sensor.rate_hz = 1.0), "sensor.rate_hz");
    assert_eq!(
        refused(|s| s.sensor.range_max_kpa = -300.0),
        "sensor.range_max_kpa"
    );
    assert_eq!(refused(|s| s.step_ms = 0.0), "step_ms");
    assert_eq!(refused(|s| s.tester.leak_mm2 = -1.0), "tester.leak_mm2");
    let lock = refused(|s| {
        s.oil = Some(Oil {
            ml: 50.0,
            ring_share: 0.2,
            seals_for_strokes: 10.0,
            stays_for_strokes: 10.0,
        });
    });
    assert_eq!(lock, "oil.ml");
}

/// A step that cannot follow what happens is said so, not turned into numbers.
#[test]
fn a_step_that_does_not_converge() {
    let mut spec = run_of(reference(), 5000.0);
    spec.step_ms = 2.0;
    spec.heat_factor = 10.0;
    spec.tester.hose_cm3 = 0.1;
    spec.tester.check_valve = Some(needlerest::simulate::CheckValve {
        cracking_kpa: 0.0,
        leak_mm2: 100.0,
    });
    spec.tester.way_mm2 = 1000.0;
    spec.tester.bleed_mm2 = 1000.0;
    spec.tester.leak_mm2 = 100.0;
    let error = run(&spec).expect_err("it cannot follow");
    assert!(matches!(error, SimulateError::Diverged { .. }), "{error}");
    assert!(error.to_string().contains("step_ms"), "{error}");
}

#[test]
fn recipes_with_mistakes() {
    let sound = include_str!("../../demo/heron.recipe.toml");
    let said = |text: &str| Recipe::parse(text).expect_err("a mistake").to_string();
    let unknown = said(&sound.replace("hose_cm3", "hose_volume"));
    assert!(unknown.contains("hose_volume"), "{unknown}");
    let missing = said(&sound.replace("bore_mm = 90\n", ""));
    assert!(missing.contains("bore_mm"), "{missing}");
    let wrong = said(&sound.replace("rod_mm = 160", "rod_mm = 40"));
    assert!(wrong.contains("engine.rod_mm"), "{wrong}");
    let typed = said(&sound.replace("stroke_mm = 94", "stroke_mm = \"long\""));
    assert!(typed.contains("stroke_mm"), "{typed}");
    let other = said(&sound.replace("version = 1", "version = 2"));
    assert!(other.contains("version 2"), "{other}");
    let nobody = said(&sound.replace("between = [\"1\", \"2\"]", "between = [\"1\", \"9\"]"));
    assert!(nobody.contains("no cylinder \"9\""), "{nobody}");
    assert!(said("not toml at all").contains("cannot be read"));
}
