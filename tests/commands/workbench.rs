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
            &["record", name, "--virtual", recipe, "--fast"],
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
