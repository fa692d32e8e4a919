//! Tests with air in a recipe: a whole recording with them, replayed, reported and verified as any
//! other; what was true is found again.

use needlerest::engine::Condition;
use needlerest::leakdown::{AirFlag, AirTest, Filled, Place, Stage};
use needlerest::pipeline::{self, Analysis, Options};
use needlerest::report::{self, Units};
use needlerest::simulate::{AirTestKind, Recipe, Simulated, session};
use needlerest::units::PressureUnit;

const PROTOCOL: &str = include_str!("../../protocol/reference-sensor.toml");
const WREN: &str = include_str!("../../demo/wren.recipe.toml");
const CARD: &str = include_str!("../../demo/wren.card.toml");

/// The twin of the demo, one valve of it leaking: its tester is checked before, both cylinders are
/// tested with air after it was cranked.
const TESTS: &str = r#"
[air]
supply_kpa = 552.0
wobble = 0.01
cycle_s = 20.0
noise = 0.002
restrictor_mm = 1.0
coefficient = 0.85
hose_cm3 = 30.0

[[air_test]]
test = "decay-tester"
after_run = 0
cylinder = "left"
wall_celsius = 16.0
volume_cm3 = 33.0

[[air_test]]
test = "leak-down"
cylinder = "left"
wall_celsius = 16.0
heard = ["nowhere"]

[[air_test]]
test = "leak-down"
cylinder = "right"
wall_celsius = 16.0
heard = ["exhaust", "breather"]
rounds = 3

[[air_test]]
test = "decay-cylinder"
cylinder = "left"
wall_celsius = 16.0

[[air_test]]
test = "leak-down"
cylinder = "left"
wall_celsius = 16.0
let_go = { after_s = 5.0, past_top_deg = 8.0 }
"#;

fn visit() -> (Simulated, Analysis) {
    let recipe = Recipe::parse(&format!("{WREN}{TESTS}")).expect("a sound recipe");
    let made = session(&recipe, PROTOCOL, Some(CARD)).expect("a visit");
    let analysis = pipeline::analyse(made.recording.as_slice(), Options::default());
    (made, analysis.expect("a recording"))
}

#[test]
fn a_whole_visit_with_air_finds_what_was_put_in() {
    let (made, analysis) = visit();
    let findings = &analysis.findings;
    let plain = Recipe::parse(WREN).expect("a sound recipe");
    assert_eq!(findings.runs.len(), plain.runs.len(), "air is no cranking");
    let truths = &made.truth.air_tests;
    assert_eq!((findings.air.len(), truths.len()), (5, 5));
    assert_eq!(findings.air[0].tester_is_tight(), Some(true));
    let rounds: Vec<usize> = findings.air[1..=2]
        .iter()
        .map(|test| test.at_top().expect("held").rounds)
        .collect();
    assert_eq!(rounds, [0, 3]);
    for (test, truth) in findings.air.iter().zip(truths).skip(1).take(2) {
        let leak = test.at_top().expect("held").leak.expect("a leak");
        let true_mm2 = truth.leak_mm2;
        assert!(
            leak.low_mm2 <= true_mm2 && true_mm2 <= leak.high_mm2,
            "{leak:?} for {true_mm2}"
        );
    }
    let AirTest::LeakDown {
        heard, condition, ..
    } = &findings.air[2]
    else {
        panic!("a leak-down test: {:?}", findings.air[2]);
    };
    assert_eq!(heard, &[Place::Exhaust, Place::Breather]);
    assert_eq!(*condition, Condition::ColdDry);
    let AirTest::Decay { filled, result, .. } = &findings.air[3] else {
        panic!("a decay test: {:?}", findings.air[3]);
    };
    assert_eq!(
        (*filled, truths[3].test),
        (Filled::Cylinder, AirTestKind::DecayCylinder)
    );
    assert!(
        result
            .as_ref()
            .is_some_and(|fell| fell.time_constant.is_some()),
        "{result:?}"
    );
    // Nobody held the crank.
    assert!(truths[4].pushed_off);
    let away = AirFlag::FellAway { stage: Stage::Top };
    assert!(
        findings.air[4].flags().contains(&away),
        "{:?}",
        findings.air[4].flags()
    );
}

#[test]
fn its_report_is_made_and_tells_each_test() {
    let (_, analysis) = visit();
    let units = Units {
        main: PressureUnit::Psi,
        also: None,
    };
    let text = report::text(&analysis.findings, units, 100);
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in [
        "The tester is tight",
        "Leak-down, cylinder right",
        "Air is heard at the exhaust",
    ] {
        assert!(text.contains(words), "{words}: {text}");
    }
}

/// The demo's pump, a single two-stroke, has neither a breather nor a next plug hole to hear air at.
#[test]
fn a_place_that_the_engine_has_not_is_refused() {
    let otter = include_str!("../../demo/otter.recipe.toml");
    for (heard, fits) in [("intake", true), ("breather", false), ("next-hole", false)] {
        let test = format!(
            "{otter}\n[[air_test]]\ntest = \"leak-down\"\ncylinder = \"1\"\nwall_celsius = 20.0\n\
             heard = [\"{heard}\"]\n"
        );
        match Recipe::parse(&test) {
            Ok(_) => assert!(fits, "{heard}"),
            Err(error) => {
                let said = error.to_string();
                assert!(!fits && said.contains("air_test.heard"), "{said}");
                assert!(said.contains("intake, exhaust, coolant, nowhere"), "{said}");
            }
        }
    }
}

#[test]
fn the_same_recipe_gives_the_same_bytes() {
    assert_eq!(visit().0, visit().0);
}

#[test]
fn what_cannot_be_is_refused_by_the_name_of_its_field() {
    let with = |old: &str, new: &str| {
        let text = format!("{WREN}{TESTS}");
        assert!(text.contains(old));
        Recipe::parse(&text.replace(old, new))
            .expect_err("impossible")
            .to_string()
    };
    for (old, new, field) in [
        ("after_run = 0", "after_run = 90", "air_test.after_run"),
        (
            "volume_cm3 = 33.0",
            "volume_cm3 = -1.0",
            "air_test.volume_cm3",
        ),
        ("rounds = 3", "rounds = 30", "air_test.rounds"),
        (
            "past_top_deg = 8.0",
            "past_top_deg = 90.0",
            "air_test.let_go",
        ),
        (
            "supply_kpa = 552.0",
            "supply_kpa = 9000.0",
            "air.supply_kpa",
        ),
        (
            "heard = [\"nowhere\"]",
            "restrictor_mm = 9.0",
            "air_test.restrictor_mm",
        ),
        (
            "test = \"decay-tester\"",
            "test = \"listen\"",
            "decay-tester",
        ),
    ] {
        let said = with(old, new);
        assert!(said.contains(field), "{field}: {said}");
    }
}
