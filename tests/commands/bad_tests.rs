//! Tests of an engine that went wrong: what was not measured is said, never guessed over.

use crate::tape::{Tape, settled_run};
use crate::tool::{code, complaint, printed, put, run_in};
use needlerest::engine::Condition;
use serde_json::Value;
use tempfile::tempdir;

/// Replays a tape; gives exit code and findings.
fn findings(tape: Tape) -> (i32, Value) {
    let folder = tempdir().unwrap();
    put(folder.path(), "tape.jsonl", &tape.seal());
    let output = run_in(folder.path(), &["replay", "tape.jsonl", "--json"]);
    let text = printed(&output);
    let json = serde_json::from_str(&text)
        .unwrap_or_else(|error| panic!("{error}: {text} {}", complaint(&output)));
    (code(&output), json)
}

fn has_flag(run: &Value, wanted: &str) -> bool {
    run["result"]["flags"]
        .as_array()
        .unwrap()
        .iter()
        .any(|flag| flag["flag"] == wanted)
}

#[test]
fn no_strokes_give_no_reading() {
    let (code, json) = findings(Tape::new(None).run("1", Condition::ColdDry).rest(8.0));
    assert_eq!(code, 5);
    assert!(
        has_flag(&json["runs"][0], "no-strokes"),
        "{}",
        json["runs"][0]
    );
    assert!(json["runs"][0]["result"]["reading"].is_null());
}

#[test]
fn one_stroke_is_never_called_settled() {
    let tape = Tape::new(None)
        .run("1", Condition::ColdDry)
        .rest(2.0)
        .strokes(900.0, 1);
    let (_, json) = findings(tape.hold(900.0 * 0.65, 4.0).rest(1.0));
    assert_ne!(json["runs"][0]["result"]["outcome"], "settled", "{json}");
}

#[test]
fn a_tape_that_ends_without_a_bleed_still_has_its_run() {
    let tape = Tape::new(None).rest(2.0).strokes(900.0, 9).hold(900.0, 2.0);
    let (code, json) = findings(tape);
    assert_eq!(code, 0);
    let value = json["runs"][0]["result"]["reading"]["value_pa"]
        .as_f64()
        .unwrap();
    assert!((value / 900e3 - 1.0).abs() < 0.01, "{value}");
}

#[test]
fn a_sensor_that_was_never_at_rest_is_flagged() {
    let (_, json) = findings(Tape::new(None).strokes(900.0, 9).hold(900.0, 2.0).rest(1.0));
    assert!(
        has_flag(&json["runs"][0], "not-zeroed"),
        "{}",
        json["runs"][0]["result"]["flags"]
    );
}

#[test]
fn a_cylinder_that_the_card_does_not_know_is_told() {
    let card = "format = \"needlerest-card\"\nversion = 1\n\n[engine]\nlabel = \"Pump\"\n\
                cycle = \"four-stroke\"\n\n[[cylinder]]\nname = \"1\"\n";
    let tape = settled_run(Tape::new(Some(card)).run("left", Condition::ColdDry), 900.0);
    let (_, json) = findings(tape);
    let text = json["assessment"].to_string();
    assert!(text.contains("left") && text.contains("card"), "{text}");
}

#[test]
fn cylinders_without_a_plan_are_told_apart_by_their_bleeds() {
    let tape = settled_run(settled_run(Tape::new(None), 1000.0), 700.0);
    let (code, json) = findings(tape);
    assert_eq!(code, 0);
    let runs = json["runs"].as_array().unwrap();
    let names: Vec<_> = runs
        .iter()
        .map(|run| run["cylinder"].as_str().unwrap())
        .collect();
    assert_eq!(names, ["1", "2"]);
    assert_eq!(json["assessment"]["comparisons"][0]["judgement"], "fail");
}

/// The replay gives the same bytes however often and however fast.
#[test]
fn speed_changes_nothing() {
    let folder = tempdir().unwrap();
    put(
        folder.path(),
        "tape.jsonl",
        &settled_run(Tape::new(None), 800.0).seal(),
    );
    let fast = run_in(folder.path(), &["replay", "tape.jsonl", "--json"]);
    let slow = run_in(
        folder.path(),
        &["replay", "tape.jsonl", "--json", "--speed", "20"],
    );
    assert_eq!(fast.stdout, slow.stdout);
}
