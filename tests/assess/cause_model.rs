//! The model of the causes: how it is grown, and what it does with what was not observed.

use needlerest::assess::CauseKind;
use needlerest::assess::causes::{CauseModel, Example, Feature, Observed, fit};

const CAUSES: [CauseKind; 2] = [CauseKind::Rings, CauseKind::Valve];

fn observed(level: Option<f64>, wet: Option<f64>) -> Observed {
    let mut observed: Observed = [None; Feature::COUNT];
    observed[Feature::Level as usize] = level;
    observed[Feature::Wet as usize] = wet;
    observed
}

/// Cylinders in which only both features together tell: rings where both are above nought. In
/// every fifth one nothing was observed.
fn examples() -> Vec<Example> {
    let sign = |bit: usize| if bit == 0 { -1.0 } else { 1.0 };
    (0..800)
        .map(|n| {
            let (level, wet) = (sign(n % 2), sign((n / 2) % 2));
            let seen = n % 5 != 0;
            let size = 1.0 + (n % 7) as f64 / 10.0;
            Example {
                visit: n / 5,
                cause: CAUSES[usize::from(level < 0.0 || wet < 0.0)],
                permitted: CAUSES.to_vec(),
                observed: observed(seen.then_some(level * size), seen.then_some(wet * size)),
            }
        })
        .collect()
}

#[test]
fn features_that_hang_together_are_asked_about_together() {
    let model = fit(&examples(), "a test");
    let rings =
        |level, wet| model.probabilities(&observed(level, wet), |_| true)[&CauseKind::Rings];
    assert!(rings(Some(1.2), Some(1.2)) > 0.9);
    for (level, wet) in [(1.2, -1.2), (-1.2, 1.2), (-1.2, -1.2)] {
        assert!(rings(Some(level), Some(wet)) < 0.1, "{level} {wet}");
    }
    // Nothing observed: as often as it is met.
    let unseen = rings(None, None);
    assert!((unseen - 0.25).abs() < 0.1, "{unseen}");
}

#[test]
fn what_an_engine_cannot_have_is_given_nothing() {
    let model = fit(&examples(), "a test");
    let given = model.probabilities(&observed(Some(1.2), Some(-1.2)), |kind| {
        kind != CauseKind::Valve
    });
    assert_eq!(given.get(&CauseKind::Valve), None);
    assert!((given[&CauseKind::Rings] - 1.0).abs() < 1e-12);
}

#[test]
fn the_same_examples_grow_the_same_trees() {
    assert_eq!(fit(&examples(), "a test"), fit(&examples(), "a test"));
}

#[test]
fn the_model_that_ships_is_whole_and_a_broken_one_is_refused() {
    let shipped = CauseModel::shipped();
    assert!(shipped.trees.len() > 100 && shipped.made_by.contains("calibrate --fit causes"));
    let text = serde_json::to_string(&fit(&examples(), "a test")).unwrap();
    assert!(CauseModel::parse(&text).is_some());
    // A node that leads back to itself, and a feature that does not exist.
    assert_eq!(
        CauseModel::parse(&text.replacen("\"low\":[1", "\"low\":[0", 1)),
        None
    );
    assert_eq!(
        CauseModel::parse(&text.replacen("\"level\"", "\"height\"", 1)),
        None
    );
    assert_eq!(
        CauseModel::parse(&text.replacen("\"temperature\":", "\"temperature\":-", 1)),
        None
    );
}

#[test]
fn the_model_that_ships_is_as_the_program_writes_it() {
    let text = serde_json::to_string(CauseModel::shipped()).unwrap();
    let shipped = include_str!("../../src/assess/causes/model.json");
    assert!(text == shipped.replace('\n', ""));
}
