//! The four visits to Marrow Creek can be made again, byte for byte, and tell their stories.

use needlerest::simulate::{Recipe, Simulated, session};
use std::fs;
use std::path::PathBuf;

fn demo(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("demo")
        .join(name)
}

fn read(name: &str) -> String {
    fs::read_to_string(demo(name)).expect("a file of the demo")
}

/// Makes a visit again and compares it with what is kept.
fn again(name: &str) -> Simulated {
    let recipe = Recipe::parse(&read(&format!("{name}.recipe.toml"))).expect("a sound recipe");
    let card = read(recipe.card.as_deref().expect("a job card"));
    let protocol = include_str!("../../protocol/reference-sensor.toml");
    let made = session(&recipe, protocol, Some(&card)).expect("a visit");
    let kept = fs::read(demo(&format!("{name}.jsonl"))).expect("a recording");
    let truth = serde_json::to_string_pretty(&made.truth).expect("JSON");
    let remedy = format!("needlerest simulate demo/{name}.recipe.toml --out demo --replace");
    assert!(
        made.recording == kept,
        "{name}: make it again with {remedy}"
    );
    assert_eq!(
        format!("{truth}\n"),
        read(&format!("{name}.truth.json")),
        "{remedy}"
    );
    assert!(kept.len() < 400_000);
    assert!(recipe.about.contains("Invented"));
    made
}

fn plateaus(made: &Simulated) -> Vec<f64> {
    made.truth.runs.iter().map(|run| run.plateau.pa()).collect()
}

#[test]
fn heron_two_neighbours_low_and_oil_does_not_help() {
    let p = plateaus(&again("heron"));
    assert!(p[0] < 0.65 * p[2] && p[1] < 0.65 * p[2]);
    assert!(p[3] < 1.1 * p[0] && p[4] < 1.1 * p[1]);
}

#[test]
fn wren_one_cylinder_low_and_oil_does_not_help() {
    let p = plateaus(&again("wren"));
    assert!(p[1] < 0.6 * p[0]);
    assert!(p[3] / p[1] < 1.02 * p[2] / p[0]);
}

#[test]
fn finch_low_and_oil_lifts_it() {
    let p = plateaus(&again("finch"));
    assert!(p[2] > 1.4 * p[1]);
}

/// The run with the throttle shut is void for the rule's sake: a two-stroke reads almost the
/// same, since its exhaust port fills it.
#[test]
fn otter_sound_and_tested_twice() {
    let made = again("otter");
    let p = plateaus(&made);
    assert!((p[0] / p[1] - 1.0).abs() < 0.05);
    assert!(made.truth.runs[0].strokes.len() < 7);
}
