//! The worked example of a sensor of one's own, and what `protocol check` says of others.

use crate::tool::{assert_complete, code, complaint, printed, put, run_in};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::tempdir;

fn shipped(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("protocol")
        .join(name)
}

/// The same engine reads alike through the reference sensor, through one that packs bytes quite
/// differently (big endian, absolute, converter counts, eight to a packet), and through those that
/// send lines of text or frames.
#[test]
fn a_differently_packed_sensor_tells_the_same_story() {
    let folder = tempdir().unwrap();
    let text = fs::read_to_string(shipped("workbench/recipe.toml")).unwrap();
    put(
        folder.path(),
        "other.toml",
        text.replace("protocol = \"sensor.toml\"\n", "").as_bytes(),
    );
    for example in ["text-lines", "frames"] {
        let file = format!("{example}.toml");
        let bytes = fs::read(shipped("examples").join(&file)).unwrap();
        put(folder.path(), &file, &bytes);
        let recipe = text.replace("\"sensor.toml\"", &format!("\"{file}\""));
        let name = format!("{example}.recipe.toml");
        put(folder.path(), &name, recipe.as_bytes());
    }
    let recipe = shipped("workbench/recipe.toml");
    let cold = |name: &str, recipe: &str| -> Vec<f64> {
        let recorded = run_in(
            folder.path(),
            &["record", name, "--virtual", recipe, "--speed", "0"],
        );
        assert_eq!(code(&recorded), 0, "{}", complaint(&recorded));
        let replayed = printed(&run_in(folder.path(), &["replay", name, "--json"]));
        let findings: Value = serde_json::from_str(&replayed).unwrap();
        let runs = findings["runs"].as_array().unwrap().iter();
        let cold = runs.filter(|run| run["condition"] == "cold-dry");
        cold.map(|run| run["result"]["reading"]["value_pa"].as_f64().unwrap())
            .collect()
    };
    let workbench = cold("a.jsonl", recipe.to_str().unwrap());
    let reference = cold("b.jsonl", "other.toml");
    assert_eq!(workbench.len(), 2);
    let text = cold("c.jsonl", "text-lines.recipe.toml");
    let frames = cold("d.jsonl", "frames.recipe.toml");
    let others = reference.iter().chain(&text).chain(&frames);
    assert_eq!(others.clone().count(), 6);
    for (a, b) in workbench.iter().cycle().zip(others) {
        // Three percent: kicks that are cut short move with the noise.
        let all = (&workbench, &reference, &text, &frames);
        assert!((a / b - 1.0).abs() < 0.03, "{all:?}");
    }
}

#[test]
fn the_example_is_a_sound_file_to_begin_with() {
    let folder = tempdir().unwrap();
    let text = printed(&run_in(folder.path(), &["protocol", "example"]));
    put(folder.path(), "my-sensor.toml", text.as_bytes());
    let checked = run_in(folder.path(), &["protocol", "check", "my-sensor.toml"]);
    assert_eq!(code(&checked), 0, "{}", complaint(&checked));
}

#[test]
fn what_a_sensor_lacks_is_said() {
    let folder = tempdir().unwrap();
    let path = shipped("environmental-sensing.toml");
    let text = printed(&run_in(
        folder.path(),
        &["protocol", "check", path.to_str().unwrap()],
    ));
    for said in [
        "role sequence",
        "no clock",
        "no rate_hz",
        "no range_high",
        "no accuracy",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    let path = shipped("reference-sensor.toml");
    let text = printed(&run_in(
        folder.path(),
        &["protocol", "check", path.to_str().unwrap()],
    ));
    assert!(text.contains("tried"), "{text}");
    // Nothing is amiss with it but for a diesel.
    assert_eq!(text.matches("mind").count(), 1, "{text}");
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("a visit to a diesel is refused"), "{text}");
    assert!(flat.contains("serves petrol engines up to 10:1"), "{text}");
}

#[test]
fn a_field_too_small_for_the_range_is_found_by_trying() {
    let folder = tempdir().unwrap();
    let text = fs::read_to_string(shipped("workbench/sensor.toml")).unwrap();
    // Ten times the range that two bytes of these counts can hold.
    let text = text.replace("range_high = \"16 bar\"", "range_high = \"3600 bar\"");
    let text = text.replace("over_range = 4095\n", "");
    put(folder.path(), "sensor.toml", text.as_bytes());
    let output = run_in(folder.path(), &["protocol", "check", "sensor.toml"]);
    assert_eq!(code(&output), 4, "{}", printed(&output));
    assert_complete(&output, "sensor.toml");
}

/// Whoever names a protocol file for a virtual sensor gets a sensor that talks so; two make no sense,
/// and a played recording brings its own.
#[test]
fn a_virtual_sensor_talks_as_the_protocol_file_says_that_is_given() {
    let folder = tempdir().unwrap();
    let recipe = shipped("workbench/recipe.toml");
    let recipe = recipe.to_str().unwrap();
    let other = shipped("examples/frames.toml");
    let other = other.to_str().unwrap();
    let record = |name: &str, more: &[&str]| {
        let given = ["record", name, "--virtual", recipe, "--speed", "0"];
        run_in(folder.path(), &[&given, more].concat())
    };
    let named = ["--cylinder", "1", "--condition"];
    let protocol = |name: &str| {
        let recording = needlerest::recording::open(&folder.path().join(name)).unwrap();
        recording.header().protocol.clone()
    };
    let recorded = record(
        "a.jsonl",
        &[&named[..], &["cold", "--protocol", other]].concat(),
    );
    assert_eq!(code(&recorded), 0, "{}", complaint(&recorded));
    assert_eq!(protocol("a.jsonl"), fs::read_to_string(other).unwrap());
    // As recordings call it, too.
    let recorded = record("b.jsonl", &[&named[..], &["cold-dry"]].concat());
    assert_eq!(code(&recorded), 0, "{}", complaint(&recorded));
    let own = fs::read_to_string(shipped("workbench/sensor.toml")).unwrap();
    assert_eq!(protocol("b.jsonl"), own);

    let twice = record("c.jsonl", &["--protocol", other, "--protocol", other]);
    assert_eq!(code(&twice), 2, "{}", complaint(&twice));
    let unknown = record("c.jsonl", &[&named[..], &["wet-dry"]].concat());
    assert_eq!(code(&unknown), 2, "{}", complaint(&unknown));
    let replayed = [
        "record",
        "c.jsonl",
        "--replay",
        "a.jsonl",
        "--protocol",
        other,
    ];
    assert_eq!(code(&run_in(folder.path(), &replayed)), 2);
}
