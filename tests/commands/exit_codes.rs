//! Each documented exit code, by a command that gives it. (130 by answers that end early is in
//! `card.rs`; by Ctrl-C in the tests of session and radio.)

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
    let begin = bytes.iter().position(|byte| *byte == b'\n').unwrap();
    put(at, "empty.jsonl", &bytes[..=begin]);
    gives(at, &["replay", "empty.jsonl"], 5);
    gives(at, &["verify", "otter", OTTER], 0);
    gives(at, &["verify", "otter", WREN], 6);
    put(&at.join("otter"), "start-here.html", b"<p>PASS</p>\n");
    gives(at, &["verify", "otter", OTTER], 7);
}
