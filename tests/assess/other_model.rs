//! Causes and expected pressures on twelve visits of a model written by others:
//! `fixtures/other-model`.

#[path = "../support/other_model.rs"]
mod truths;

use needlerest::assess::{CauseKind, Judgement};
use needlerest::engine::Condition::ColdDry;
use needlerest::pipeline::Findings;
use truths::{Truth, visits};

/// Its name for a cause, and ours.
const CAUSES: [(&str, CauseKind); 5] = [
    ("healthy", CauseKind::Healthy),
    ("rings", CauseKind::Rings),
    ("carbon", CauseKind::HighCompression),
    ("throttle", CauseKind::ThrottleShut),
    ("gasket", CauseKind::Gasket),
];

/// Visits that cannot show what is wrong, and why.
const HIDDEN: [(&str, &str); 5] = [
    (
        "v0003.jsonl",
        "the gasket takes 1 %: both read as sound ones do",
    ),
    (
        "v0007.jsonl",
        "a kick starts with a full manifold, throttle shut or not",
    ),
    ("v0011.jsonl", "the same"),
    (
        "v0026.jsonl",
        "without a check valve a leaking tester loses nothing",
    ),
    ("v0049.jsonl", "a weak starter is no fault of a cylinder"),
];

fn is_hidden(truth: &Truth) -> bool {
    HIDDEN.iter().any(|(file, _)| truth.file == *file)
}

#[test]
fn the_leading_cause_is_what_is_wrong() {
    let mut right = 0;
    for (truth, findings) in visits() {
        if is_hidden(&truth) {
            continue;
        }
        for (cause, ours) in truth.causes.iter().zip(&findings.assessment.cylinders) {
            let wanted = CAUSES.iter().find(|(name, _)| name == cause);
            let (_, wanted) = wanted.expect("a cause of a cylinder");
            let place = format!("{}, cylinder {}", truth.file, ours.name);
            assert_eq!(ours.causes[0].kind, *wanted, "{place}");
            right += 1;
        }
    }
    assert_eq!(right, 18);
}

/// Where the fault hides, no other one is made up.
#[test]
fn what_cannot_be_seen_is_not_guessed_at() {
    let hidden: Vec<_> = visits()
        .into_iter()
        .filter(|(truth, _)| is_hidden(truth))
        .collect();
    assert_eq!(hidden.len(), HIDDEN.len());
    for (truth, findings) in hidden {
        assert_ne!(
            findings.assessment.judgement,
            Judgement::Fail,
            "{}",
            truth.file
        );
        for cylinder in &findings.assessment.cylinders {
            assert_eq!(
                cylinder.causes[0].kind,
                CauseKind::Healthy,
                "{}",
                truth.file
            );
        }
    }
}

/// Dry readings that many strokes come to in sound cylinders, over what is expected.
fn sound_levels(truth: &Truth, findings: &Findings) -> Vec<(f64, f64, f64)> {
    let expected = &findings.assessment.expected;
    let cold = expected
        .iter()
        .find(|expected| expected.condition == ColdDry);
    let Some(cold) = cold else { return Vec::new() };
    let dry = truth.runs.iter().filter(|run| !run.wet);
    let of = |name: &str| name.parse::<usize>().expect("a number") - 1;
    dry.filter(|run| truth.causes[of(&run.cylinder)] == "healthy")
        .map(|run| (cold.low.pa(), run.plateau_pa, cold.high.pa()))
        .collect()
}

/// Each sound cylinder of the other model lies in the range that the card lets expect.
#[test]
fn sound_cylinders_read_what_the_card_lets_expect() {
    let mut looked_at = 0;
    for (truth, findings) in visits() {
        for (low, level, high) in sound_levels(&truth, &findings) {
            assert!(
                (low..high).contains(&level),
                "{}: {low} {level} {high}",
                truth.file
            );
            looked_at += 1;
        }
    }
    assert!(looked_at >= 10, "{looked_at}");
}
