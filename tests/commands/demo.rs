//! The demo: each recording tells the story that it was made with, the same way each time.

use crate::tool::{code, complaint, printed, run_in};
use serde_json::Value;
use std::path::{Path, PathBuf};
use tempfile::tempdir;

fn recording(visit: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo")
        .join(format!("{visit}.jsonl"))
}

fn replayed(visit: &str, more: &[&str]) -> String {
    let path = recording(visit);
    let mut arguments = vec!["replay", path.to_str().unwrap(), "--json"];
    arguments.extend(more);
    let output = run_in(Path::new("."), &arguments);
    assert_eq!(code(&output), 0, "{visit}: {}", complaint(&output));
    printed(&output)
}

/// The leading cause of every cylinder.
fn causes(visit: &str) -> Vec<(String, String)> {
    let findings: Value = serde_json::from_str(&replayed(visit, &[])).unwrap();
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let cylinders = findings["assessment"]["cylinders"].as_array().unwrap();
    cylinders
        .iter()
        .map(|cylinder| {
            (
                text(&cylinder["name"]),
                text(&cylinder["causes"][0]["kind"]),
            )
        })
        .collect()
}

fn pairs(expected: &[(&str, &str)]) -> Vec<(String, String)> {
    expected
        .iter()
        .map(|(a, b)| ((*a).to_owned(), (*b).to_owned()))
        .collect()
}

#[test]
fn heron_has_a_gasket_that_leaks_between_two_cylinders() {
    let expected = [("1", "gasket"), ("2", "gasket"), ("3", "healthy")];
    assert_eq!(causes("heron"), pairs(&expected));
}

#[test]
fn wren_has_a_valve_that_leaks() {
    assert_eq!(
        causes("wren"),
        pairs(&[("left", "healthy"), ("right", "valve")])
    );
}

#[test]
fn finch_has_worn_rings() {
    assert_eq!(causes("finch"), pairs(&[("1", "rings")]));
}

#[test]
fn otter_is_healthy_once_its_throttle_is_open() {
    assert_eq!(causes("otter"), pairs(&[("1", "healthy")]));
    let findings: Value = serde_json::from_str(&replayed("otter", &[])).unwrap();
    let runs = findings["runs"].as_array().unwrap();
    assert_eq!(runs[0]["void"], true);
    assert!(
        runs[0]["void_reason"]
            .as_str()
            .unwrap()
            .contains("throttle")
    );
}

/// The truth is what a perfect gauge behind the same tester comes to (`demo/NAME.truth.json`), of
/// dry runs: in a wet one it sinks from stroke to stroke as oil leaves. That a replay says the same
/// each time and at each speed is held by `tests/reliability/determinism.rs`.
#[test]
fn settled_readings_hold_the_truth_that_they_were_made_with() {
    for (visit, settled) in [("heron", 3), ("wren", 2), ("finch", 2), ("otter", 1)] {
        let findings: Value = serde_json::from_str(&replayed(visit, &[])).unwrap();
        let truth = recording(visit).with_extension("truth.json");
        let truth: Value = serde_json::from_slice(&std::fs::read(truth).unwrap()).unwrap();
        let mut held = 0;
        let (runs, truths) = (findings["runs"].as_array(), truth["runs"].as_array());
        for (run, truth) in runs.unwrap().iter().zip(truths.unwrap()) {
            if run["result"]["outcome"] != "settled" || run["condition"] == "wet" {
                continue;
            }
            let number = |value: &Value| value.as_f64().unwrap();
            let reading = &run["result"]["reading"];
            let off = number(&reading["value_pa"]) - number(&truth["plateau_pa"]);
            let expanded = number(&reading["expanded_pa"]);
            assert!(off.abs() <= expanded, "{visit}: {off} Pa, ± {expanded} Pa");
            held += 1;
        }
        assert_eq!(held, settled, "{visit}");
    }
}

#[test]
fn the_demo_ends_by_naming_reports_that_are_there() {
    let folder = tempdir().unwrap();
    for _ in 0..2 {
        let output = run_in(folder.path(), &["demo"]);
        assert_eq!(code(&output), 0, "{}", complaint(&output));
        let text = printed(&output);
        let named: Vec<_> = text.lines().rev().take(4).map(str::trim).collect();
        for page in named {
            assert!(
                page.ends_with("index.html") && folder.path().join(page).is_file(),
                "{page}"
            );
        }
    }
}

/// Every beginning of a recording gives a sane state: no panic, an exit code that is documented.
#[test]
fn a_recording_cut_anywhere_is_read_as_far_as_it_goes() {
    let folder = tempdir().unwrap();
    let bytes = std::fs::read(recording("otter")).unwrap();
    for tenth in 1..10 {
        let cut = crate::tool::put(
            folder.path(),
            "cut.jsonl",
            &bytes[..bytes.len() * tenth / 10],
        );
        let output = run_in(folder.path(), &["replay", cut.to_str().unwrap(), "--json"]);
        assert!(
            [3, 5].contains(&code(&output)),
            "{tenth}: {}",
            complaint(&output)
        );
    }
}
