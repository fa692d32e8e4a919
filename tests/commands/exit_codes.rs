//! Each documented exit code, by a command that gives it. (130 by answers that end early is in
//! `card.rs`; by Ctrl-C in the tests of session and radio.)

use crate::tape::Tape;
use crate::tool::{code, complaint, put, run_in};
use std::path::Path;
use tempfile::tempdir;

const OTTER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/otter.jsonl");
const WREN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/wren.jsonl");

fn gives(folder: &Path, arguments: &[&str], wanted: i32) {
    let output = run_in(folder, arguments);
    assert_eq!(
        code(&output),
        wanted,
        "{arguments:?}: {}",
        complaint(&output)
    );
}

#[test]
fn each_code_means_what_the_help_says() {
    let folder = tempdir().unwrap();
    let at = folder.path();
    gives(at, &["replay", OTTER, "--report", "otter"], 0);
    gives(at, &["replay", "not-there.jsonl"], 1);
    gives(at, &["replay", OTTER, "--report", "otter"], 1);
    gives(at, &["replay", OTTER, "--rig", "flying"], 2);
    let bytes = std::fs::read(OTTER).unwrap();
    put(at, "cut.jsonl", &bytes[..bytes.len() - 100]);
    gives(at, &["replay", "cut.jsonl"], 3);
    put(at, "letter.txt", b"Dear Sir,\n");
    gives(at, &["replay", "letter.txt"], 4);
    gives(at, &["protocol", "check", "letter.txt"], 4);
    gives(at, &["visit", "x.jsonl", "--card", "letter.txt"], 4);
    put(at, "rest.jsonl", &Tape::new(None).rest(3.0).seal());
    gives(at, &["replay", "rest.jsonl"], 5);
    gives(at, &["verify", "otter", OTTER], 0);
    gives(at, &["verify", "otter", WREN], 6);
    put(&at.join("otter"), "start-here.html", b"<p>PASS</p>\n");
    gives(at, &["verify", "otter", OTTER], 7);
}

/// What could not be written is no success, and be it help.
#[cfg(target_os = "linux")]
#[test]
fn what_cannot_be_written_gives_1() {
    let folder = tempdir().unwrap();
    for arguments in [
        &["--help"][..],
        &["--version"],
        &["replay", "--help"],
        &["help", "verify"],
        &["replay", OTTER],
        &["guide", "trouble"],
        &["protocol", "schema"],
        &["completions", "bash"],
    ] {
        let full = std::fs::OpenOptions::new()
            .write(true)
            .open("/dev/full")
            .unwrap();
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_needlerest"))
            .args(arguments)
            .current_dir(folder.path())
            .env("XDG_CONFIG_HOME", folder.path())
            .stdout(full)
            .output()
            .unwrap();
        assert_eq!(code(&output), 1, "{arguments:?}");
        assert!(complaint(&output).starts_with("error: "), "{arguments:?}");
    }
}

/// Runs a command that must give 3, and looks that it says this before it says anything else.
fn says_first(folder: &Path, arguments: &[&str], wanted: &str) {
    let output = run_in(folder, arguments);
    let said = flat(&output.stdout);
    assert_eq!(code(&output), 3, "{arguments:?}: {said}");
    let place = said.find(wanted);
    let place = place.unwrap_or_else(|| panic!("{arguments:?}: {said}"));
    for result in ["PASS", "NOT JUDGED", "Compared with", "reads", "Score"] {
        let after = said.find(result).is_none_or(|result| place < result);
        assert!(after, "{arguments:?}: {result} comes first: {said}");
    }
}

/// Text without the line ends that depend on a terminal's width.
fn flat(text: &[u8]) -> String {
    let text = String::from_utf8_lossy(text);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn damage_is_said_first_and_outweighs_that_nothing_was_read() {
    let folder = tempdir().unwrap();
    let at = folder.path();
    let bytes = std::fs::read(OTTER).unwrap();
    let lines: Vec<&[u8]> = bytes.split_inclusive(|byte| *byte == b'\n').collect();
    let mut bad: Vec<Vec<u8>> = lines.iter().map(|line| line.to_vec()).collect();
    for line in &mut bad[20..25] {
        line[10] ^= 1;
    }
    bad.remove(100);
    put(at, "bad.jsonl", &bad.concat());
    // At a line's end, so that every line that is there is sound.
    put(at, "cut.jsonl", &lines[..300].concat());
    let damaged = "lines 21 to 25 cannot be used; 1 line is missing before line 101";
    let cut = "not sealed: it was cut short";
    for (name, wanted) in [("bad.jsonl", damaged), ("cut.jsonl", cut)] {
        let report = name.replace(".jsonl", "-report");
        says_first(at, &["replay", name, "--report", &report], wanted);
        says_first(at, &["compare", name, OTTER], wanted);
        says_first(at, &["compare", OTTER, name], wanted);
        let speed = ["visit", "--plain", "--replay", name, "--speed", "10000"];
        let said = flat(&run_in(at, &speed).stdout);
        assert!(said.contains(wanted), "{said}");
        gives(at, &speed, 3);
        let page = std::fs::read_to_string(at.join(&report).join("index.html")).unwrap();
        let place = page.find(wanted).expect("the page says it");
        assert!(place < page.find("id=\"h-verdict\"").unwrap());
        assert!(!page.contains("holds every packet as it was received"));
        let sheet = std::fs::read_to_string(at.join(&report).join("build-up.svg")).unwrap();
        assert!(sheet.contains("not whole"));
        says_first(at, &["inspect", name], "NOT WHOLE");
        gives(at, &["verify", &report, name], 6);
    }
    says_first(
        at,
        &["overview", "."],
        "bad.jsonl: The recording is damaged: lines 21 to 25",
    );
    says_first(
        at,
        &["overview", "."],
        "cut.jsonl: The recording is not sealed",
    );
    // Nothing was read, and it is not whole: both are said, the latter is the code.
    put(at, "begun.jsonl", lines[0]);
    says_first(at, &["replay", "begun.jsonl"], cut);
    let said = flat(&run_in(at, &["replay", "begun.jsonl"]).stdout);
    assert!(said.contains("NOT JUDGED"), "{said}");
}
