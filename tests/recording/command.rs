//! `inspect`, at the process boundary: what it says, and its exit code.

use super::made::{event, every_event, header, packet, small};
use needlerest::recording::Writer;
use std::path::Path;
use std::process::{Command, Output};

fn inspect(path: &Path, more: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_needlerest"))
        .arg("inspect")
        .arg(path)
        .args(more)
        .env("NO_COLOR", "1")
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// A sealed recording whose protocol file decodes.
fn recording() -> Vec<u8> {
    let mut writer = Writer::begin(Vec::new(), &header()).unwrap();
    writer
        .event(&event(500_000, every_event().remove(0)))
        .unwrap();
    for i in 0..10 {
        writer
            .packet(&packet(1_000_000 + i * 100_000, 101_325))
            .unwrap();
    }
    writer.seal().unwrap().0
}

#[test]
fn a_sound_recording_is_shown_and_gives_0() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sound.jsonl");
    std::fs::write(&path, recording()).unwrap();
    let output = inspect(&path, &[]);
    let shown = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{shown}");
    for part in [
        "1.9 s, 13 lines",
        "10 of stream",
        "cylinder left, warm",
        "holds",
        "Environmental",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let json: serde_json::Value =
        serde_json::from_slice(&inspect(&path, &["--json"]).stdout).unwrap();
    assert_eq!(json["summary"]["packets"]["stream"], 10);
    assert_eq!(json["summary"]["seal"], "holds");
    assert_eq!(json["summary"]["decoded"]["samples"], 10);
}

#[test]
fn damage_is_shown_by_line_gives_3_and_can_be_left_behind() {
    let folder = tempfile::tempdir().unwrap();
    let (path, copy) = (
        folder.path().join("bad.jsonl"),
        folder.path().join("copy.jsonl"),
    );
    let mut bytes = recording();
    let fourth = bytes
        .iter()
        .enumerate()
        .filter(|(_, b)| **b == b'\n')
        .nth(3)
        .unwrap()
        .0;
    bytes[fourth - 30] ^= 2;
    std::fs::write(&path, &bytes).unwrap();
    let output = inspect(&path, &["--recover", copy.to_str().unwrap()]);
    let shown = text(&output.stdout);
    assert_eq!(output.status.code(), Some(3), "{shown}");
    assert!(shown.contains("line 4: the check value is"), "{shown}");
    assert!(shown.contains("DOES NOT HOLD"), "{shown}");
    assert!(shown.contains("11 lines kept"), "{shown}");
    assert_eq!(
        std::fs::read(&path).unwrap(),
        bytes,
        "the damaged one is left as it is"
    );
    assert_eq!(inspect(&copy, &[]).status.code(), Some(0));
    let again = inspect(&path, &["--recover", copy.to_str().unwrap()]);
    assert_eq!(again.status.code(), Some(1));
    assert!(text(&again.stderr).contains("left as it is"));
}

#[test]
fn what_cannot_be_read_gives_the_right_code_and_a_remedy() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    std::fs::write(path("empty"), b"").unwrap();
    std::fs::write(path("foreign"), b"time,pressure\n0,1\n").unwrap();
    let mut newer = header();
    newer.version = 3;
    let newer = Writer::begin(Vec::new(), &newer).unwrap().seal().unwrap().0;
    std::fs::write(path("newer"), newer).unwrap();
    std::fs::write(path("half"), &small()[..60]).unwrap();
    for (name, code, part) in [
        ("missing", 1, "cannot read"),
        ("empty", 4, "empty"),
        ("foreign", 4, "not a recording"),
        ("newer", 4, "version 3"),
        ("half", 4, "first line"),
    ] {
        let output = inspect(&path(name), &[]);
        let told = text(&output.stderr);
        assert_eq!(output.status.code(), Some(code), "{name}: {told}");
        assert!(told.contains(part), "{name}: {told}");
        assert!(output.stdout.is_empty(), "{name}");
    }
}

/// On a disk that takes nothing, no empty file is left behind either.
#[cfg(unix)]
#[test]
fn a_copy_that_cannot_be_written_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let whole = recording();
    std::fs::write(folder.path().join("bad.jsonl"), &whole[..whole.len() - 30]).unwrap();
    // Blocks of 512 bytes. The copy is longer than the original, as a note is added. Without the
    // trap the system would end the program at once.
    for blocks in [0, 1, whole.len() / 512] {
        let program = env!("CARGO_BIN_EXE_needlerest");
        let script = format!(
            "trap '' XFSZ; ulimit -f {blocks}; exec '{program}' inspect bad.jsonl --recover copy.jsonl"
        );
        let mut shell = Command::new("sh");
        let output = shell
            .current_dir(folder.path())
            .args(["-c", &script])
            .output();
        let output = output.unwrap();
        let told = text(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{blocks}: {told}");
        assert!(
            told.contains("copy.jsonl") && told.contains("another disk"),
            "{told}"
        );
        assert!(!folder.path().join("copy.jsonl").exists(), "{blocks}");
    }
}
