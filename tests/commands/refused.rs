//! Tests that nobody should make are refused before anything is written.

use crate::tool::{assert_complete, code, complaint, printed, put, run_in, run_with_input};
use std::fs;
use std::path::Path;
use tempfile::tempdir;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");

fn kept(name: &str) -> String {
    fs::read_to_string(Path::new(ROOT).join(name)).unwrap()
}

/// A rehearsal on a simulated engine with this card and this protocol file.
fn practise(folder: &Path, card: &str, protocol: &str) -> std::process::Output {
    put(folder, "card.toml", card.as_bytes());
    put(folder, "sensor.toml", protocol.as_bytes());
    put(
        folder,
        "recipe.toml",
        kept("demo/practice/starter-twin.recipe.toml").as_bytes(),
    );
    let arguments = [
        "practice",
        "visit.jsonl",
        "--plain",
        "--recipe",
        "recipe.toml",
        "--card",
        "card.toml",
        "--protocol",
        "sensor.toml",
    ];
    run_with_input(folder, &arguments, "go\nstop\n")
}

#[test]
fn a_diesel_on_a_sensor_that_it_could_burst() {
    let folder = tempdir().unwrap();
    let diesel = kept("demo/practice/starter-twin.card.toml")
        .replace("start =", "ignition = \"compression\"\nstart =")
        .replace("wet_oil_cm3 = 1.4\n", "")
        .replace("\"215 psi\"", "\"35 bar\"");
    let sensor = kept("protocol/reference-sensor.toml");
    let refused = practise(folder.path(), &diesel, &sensor);
    assert_eq!(code(&refused), 4, "{}", complaint(&refused));
    assert_complete(&refused, "range_high");
    assert!(complaint(&refused).contains("burst"));
    assert!(!folder.path().join("visit.jsonl").exists());
    let unknown = sensor
        .replace("range_high = \"2500 kPa\"\n", "")
        .replace("accuracy_percent_of_span = 0.25", "accuracy = \"6.5 kPa\"");
    let refused = practise(folder.path(), &diesel, &unknown);
    assert_eq!(code(&refused), 4, "{}", complaint(&refused));
    assert!(!folder.path().join("visit.jsonl").exists());
    let strong = sensor.replace("\"2500 kPa\"", "\"70 bar\"");
    let begun = practise(folder.path(), &diesel, &strong);
    assert!(
        folder.path().join("visit.jsonl").exists(),
        "{}",
        complaint(&begun)
    );
    let said = printed(&begun);
    assert!(
        said.contains("No oil into a diesel") && !said.contains("This sensor."),
        "{said}"
    );
}

#[test]
fn a_petrol_engine_near_the_sensors_top_is_warned_of() {
    let folder = tempdir().unwrap();
    let sensor = kept("protocol/reference-sensor.toml").replace("\"2500 kPa\"", "\"16 bar\"");
    let begun = practise(
        folder.path(),
        &kept("demo/practice/starter-twin.card.toml"),
        &sensor,
    );
    assert!(
        folder.path().join("visit.jsonl").exists(),
        "{}",
        complaint(&begun)
    );
    // 215 psi, the card's normal reading, are 14.8 bar: within a tenth of 16.
    assert!(printed(&begun).contains("This sensor. This engine may make 180.0 to 215.0 psi"));
}

#[test]
fn a_card_that_asks_for_too_much_oil() {
    let folder = tempdir().unwrap();
    let card = kept("demo/practice/starter-twin.card.toml")
        .replace("wet_oil_cm3 = 1.4", "wet_oil_cm3 = 15");
    let refused = practise(
        folder.path(),
        &card,
        &kept("protocol/reference-sensor.toml"),
    );
    assert_eq!(code(&refused), 4, "{}", complaint(&refused));
    assert!(
        complaint(&refused).contains("hydraulic lock"),
        "{}",
        complaint(&refused)
    );
    assert!(!folder.path().join("visit.jsonl").exists());
    let asked = ["card", "mine.toml", "--no-questions", "--bore", "52"];
    let asked = [
        &asked[..],
        &["--stroke", "58.9", "--ratio", "9.6", "--wet-oil", "15"],
    ]
    .concat();
    let refused = run_in(folder.path(), &asked);
    assert_eq!(code(&refused), 2, "{}", complaint(&refused));
    assert!(
        complaint(&refused).contains("hydraulic lock"),
        "{}",
        complaint(&refused)
    );
    assert!(!folder.path().join("mine.toml").exists());
}

#[test]
fn cautions_of_one_engine_are_fewer_than_all() {
    let folder = tempdir().unwrap();
    put(
        folder.path(),
        "card.toml",
        kept("demo/otter.card.toml").as_bytes(),
    );
    let all = printed(&run_in(folder.path(), &["cautions"]));
    let own = printed(&run_in(folder.path(), &["cautions", "--card", "card.toml"]));
    assert!(all.contains("(diesel)") && !own.contains("diesel"), "{own}");
    assert!(
        own.contains("(two-stroke petrol engine)") && own.contains("AC 43.13-1B"),
        "{own}"
    );
}
