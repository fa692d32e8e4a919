//! Recordings that are missing, empty, damaged, foreign or newer: a clear message, the right exit
//! code, and nothing overwritten.

use crate::tape::{Tape, settled_run};
use crate::tool::{assert_complete, code, complaint, printed, put, run_in};
use needlerest::engine::Condition;
use tempfile::tempdir;

fn good() -> Vec<u8> {
    settled_run(Tape::new(None).run("1", Condition::ColdDry), 1000.0).seal()
}

#[test]
fn a_missing_file_is_named() {
    let folder = tempdir().unwrap();
    let output = run_in(folder.path(), &["replay", "nowhere.jsonl"]);
    assert_eq!(code(&output), 1);
    assert_complete(&output, "nowhere.jsonl");
}

#[test]
fn empty_and_foreign_files_are_refused() {
    let folder = tempdir().unwrap();
    for (name, bytes) in [
        ("empty.jsonl", &b""[..]),
        ("foreign.jsonl", b"{\"some\":\"thing\"}\n"),
        (
            "picture.jsonl",
            &[0x89, b'P', b'N', b'G', 0, 255, 254, 10, 3],
        ),
    ] {
        put(folder.path(), name, bytes);
        let output = run_in(folder.path(), &["replay", name]);
        assert_eq!(code(&output), 4, "{name}: {}", complaint(&output));
        assert_complete(&output, name);
    }
}

#[test]
fn a_newer_version_is_refused_and_says_so() {
    let folder = tempdir().unwrap();
    put(
        folder.path(),
        "new.jsonl",
        &Tape::of_version(7, None).rest(1.0).seal(),
    );
    let output = run_in(folder.path(), &["replay", "new.jsonl"]);
    assert_eq!(code(&output), 4);
    assert!(
        complaint(&output).contains("version 7"),
        "{}",
        complaint(&output)
    );
}

#[test]
fn a_cut_off_recording_is_analysed_and_the_loss_is_told() {
    let folder = tempdir().unwrap();
    let whole = good();
    put(folder.path(), "cut.jsonl", &whole[..whole.len() * 9 / 10]);
    let output = run_in(folder.path(), &["replay", "cut.jsonl"]);
    assert_eq!(code(&output), 3, "{}", complaint(&output));
    assert!(
        printed(&output).contains("144.8"),
        "the needle came to 998 kPa, 144.8 psi: {}",
        printed(&output)
    );
}

#[test]
fn a_flipped_bit_is_found_and_the_rest_is_used() {
    let folder = tempdir().unwrap();
    let mut bytes = good();
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    put(folder.path(), "flipped.jsonl", &bytes);
    let output = run_in(folder.path(), &["replay", "flipped.jsonl", "--json"]);
    assert_eq!(code(&output), 3);
    let findings: serde_json::Value = serde_json::from_str(&printed(&output)).unwrap();
    assert_eq!(findings["recording"]["seal_holds"], false);
    assert!(findings["recording"]["damaged_lines"].as_u64() >= Some(1));
}

#[test]
fn an_unsound_protocol_file_or_card_in_the_header_is_told() {
    let folder = tempdir().unwrap();
    let bytes = Tape::new(Some("format = \"needlerest-card\"\nversion = 1\n"))
        .rest(1.0)
        .seal();
    put(folder.path(), "card.jsonl", &bytes);
    let output = run_in(folder.path(), &["replay", "card.jsonl"]);
    assert_eq!(code(&output), 4);
    assert_complete(&output, "card.jsonl");
    assert!(
        complaint(&output).contains("engine"),
        "{}",
        complaint(&output)
    );
}

#[test]
fn an_older_report_is_not_overwritten_unasked() {
    let folder = tempdir().unwrap();
    put(folder.path(), "good.jsonl", &good());
    let arguments = ["replay", "good.jsonl", "--report", "out"];
    assert_eq!(code(&run_in(folder.path(), &arguments)), 0);
    let page = folder.path().join("out/index.html");
    std::fs::write(&page, "mine").unwrap();
    assert_eq!(code(&run_in(folder.path(), &arguments)), 1);
    assert_eq!(std::fs::read_to_string(&page).unwrap(), "mine");
}
