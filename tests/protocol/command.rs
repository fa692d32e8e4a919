//! `protocol check` and `protocol decode`, at the process boundary.

use std::process::{Command, Output};

fn protocol(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_needlerest"))
        .arg("protocol")
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env("NO_COLOR", "1")
        .output()
        .unwrap()
}

fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned() + &String::from_utf8_lossy(&output.stderr)
}

#[test]
fn a_sound_file_is_described() {
    let output = protocol(&["check", "protocol/reference-sensor.toml"]);
    let shown = told(&output);
    assert_eq!(output.status.code(), Some(0), "{shown}");
    for part in [
        "gauge",
        "±6.5 kPa",
        "500 samples a second",
        "start, stop, zero, set rate",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let output = protocol(&["check", "--json", "protocol/environmental-sensing.toml"]);
    let json: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(json["spec"]["sensor"]["pressure"], "absolute");
    assert_eq!(json["accuracy"], "not stated");
}

#[test]
fn a_bad_file_gives_4_with_line_entry_and_remedy() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.toml");
    let bad = super::shipped::REFERENCE.replace("unit = \"Pa\"", "unit = \"furlong\"");
    std::fs::write(&path, bad).unwrap();
    let output = protocol(&["check", path.to_str().unwrap()]);
    let shown = told(&output);
    assert_eq!(output.status.code(), Some(4), "{shown}");
    for part in ["furlong", "mine.toml, line ", "unit", "do:"] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    std::fs::write(&path, [0xFF, 0xFE, 0]).unwrap();
    assert_eq!(
        protocol(&["check", path.to_str().unwrap()]).status.code(),
        Some(4)
    );
    assert_eq!(
        protocol(&["check", "no-such-file.toml"]).status.code(),
        Some(1)
    );
}

#[test]
fn payloads_are_taken_as_people_write_them() {
    let file = "protocol/environmental-sensing.toml";
    let spaced = told(&protocol(&["decode", file, "02", "76", "0F", "00"]));
    assert!(spaced.contains("101325 Pa"), "{spaced}");
    for hex in [
        "02760f00",
        "02:76:0F:00",
        "0x02 0x76 0x0F 0x00",
        "02-76-0f-00",
    ] {
        assert_eq!(told(&protocol(&["decode", file, hex])), spaced, "{hex}");
    }
    let json = protocol(&["decode", "--json", file, "02760f00"]);
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!(json["rows"][0]["value"], 101_325.0);
    // Too short to be used; not hexadecimal at all.
    assert_eq!(protocol(&["decode", file, "0276"]).status.code(), Some(3));
    assert_eq!(protocol(&["decode", file, "0276zz"]).status.code(), Some(2));
    assert_eq!(
        protocol(&["decode", file, &"00".repeat(513)]).status.code(),
        Some(2)
    );
}
