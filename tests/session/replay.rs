//! A visit from a recording: the same at any speed, and nothing of it can be changed.

use std::io::Write;
use std::process::{Command, Output, Stdio};

const PROGRAM: &str = env!("CARGO_BIN_EXE_needlerest");
const RECORDING: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/wren.jsonl");

fn visit(speed: &str, words: &str) -> Output {
    let mut program = Command::new(PROGRAM)
        .args(["visit", "--plain", "--replay", RECORDING, "--speed", speed])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("starts");
    let mut input = program.stdin.take().expect("piped");
    // A replay as fast as it goes may be over before it has read a word.
    let _ = input.write_all(words.as_bytes());
    drop(input);
    program.wait_with_output().expect("ends")
}

#[test]
fn a_replay_goes_the_same_way_at_any_speed() {
    let fast = visit("0", "");
    let timed = visit("200", "");
    assert!(fast.status.success() && timed.status.success());
    let text = String::from_utf8(fast.stdout).expect("text");
    assert_eq!(text, String::from_utf8(timed.stdout).expect("text"));
    for needed in ["Stroke 1:", "left cold:", "right cold:", "* finished"] {
        assert!(text.contains(needed), "no \"{needed}\" in\n{text}");
    }
}

#[test]
fn a_replay_cannot_be_changed() {
    let told = visit("10", "skip\nname middle\n");
    let text = String::from_utf8_lossy(&told.stderr);
    assert!(text.contains("it can be watched and stopped"), "{text}");
    let untouched = visit("0", "");
    assert_eq!(told.stdout, untouched.stdout);
}

#[test]
fn a_card_that_is_missing_is_told_before_a_sensor_is_looked_for() {
    let told = Command::new(PROGRAM)
        .args(["visit", "new.jsonl", "--card", "missing.card.toml"])
        // Where there is no message bus, looking for the sensor would be the first failure.
        .env("DBUS_SYSTEM_BUS_ADDRESS", "unix:path=/nonexistent")
        .output()
        .expect("runs");
    let text = String::from_utf8_lossy(&told.stderr);
    assert!(
        !told.status.success() && text.contains("missing.card.toml"),
        "{text}"
    );
}
