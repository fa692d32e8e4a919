//! The fitted curve against SciPy's nonlinear least squares (`fixtures/signal/make.py`) and
//! against Aitken's extrapolation.

use needlerest::signal::curve::{Step, fit};
use serde::Deserialize;

#[derive(Deserialize)]
struct Fixture {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    level: Vec<f64>,
    plateau: f64,
    plateau_standard: f64,
    ratio: f64,
    ratio_standard: f64,
}

fn steps(levels: &[f64]) -> Vec<Step> {
    levels
        .iter()
        .enumerate()
        .map(|(k, level)| Step {
            k: k as f64,
            level: *level,
        })
        .collect()
}

#[test]
fn plateau_and_its_standard_error_are_those_of_scipy() {
    let fixture: Fixture =
        serde_json::from_str(include_str!("../../fixtures/signal/curves.json")).unwrap();
    assert!(!fixture.cases.is_empty());
    for case in fixture.cases {
        for guess in [0.1, 0.5, 0.9] {
            let curve = fit(&steps(&case.level), guess).unwrap();
            let close = |ours: f64, theirs: f64, within: f64| {
                assert!(
                    (ours / theirs - 1.0).abs() < within,
                    "{} from {guess}: {ours} and {theirs}",
                    case.name
                );
            };
            close(curve.plateau, case.plateau, 1e-4);
            close(curve.ratio, case.ratio, 1e-3);
            close(curve.plateau_standard, case.plateau_standard, 0.01);
            close(curve.ratio_standard, case.ratio_standard, 0.01);
        }
    }
}

/// Aitken's delta-squared (DLMF 3.9(iii)): exact for a geometric sequence.
fn aitken(s: &[f64]) -> f64 {
    let (first, second) = (s[1] - s[0], s[2] - s[1]);
    s[2] - second * second / (second - first)
}

#[test]
fn exact_geometric_sequences_give_the_limit_that_aitken_gives() {
    for (levels, limit, ratio) in [
        (vec![90.0, 126.0, 140.4, 146.16], 150.0, 0.4),
        (
            vec![100.0, 130.0, 139.0, 141.7, 142.51],
            142.857_142_857,
            0.3,
        ),
    ] {
        for triple in levels.windows(3) {
            assert!((aitken(triple) - limit).abs() < 1e-9);
        }
        let curve = fit(&steps(&levels), 0.5).unwrap();
        assert!((curve.plateau - limit).abs() < 1e-8, "{curve:?}");
        assert!((curve.ratio - ratio).abs() < 1e-9);
        assert!((curve.first - levels[0]).abs() < 1e-8);
    }
}

/// Aitken's denominator is 0 for these: no number may come out.
#[test]
fn what_does_not_approach_anything_has_no_plateau() {
    for levels in [
        vec![150.0; 5],
        vec![100.0, 110.0, 120.0, 130.0, 140.0],
        vec![100.0, 110.0, 125.0, 150.0, 190.0],
        vec![1.0, 2.0, f64::NAN, 3.0, 3.5],
        vec![1.0, 2.0],
        vec![],
    ] {
        assert_eq!(fit(&steps(&levels), 0.5), None, "{levels:?}");
    }
}
