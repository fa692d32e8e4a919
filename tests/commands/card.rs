//! Job cards by asking: answered, left out, mistaken, broken off; never written over.

use crate::tool::{assert_complete, code, complaint, printed, put, run_in, run_with_input};
use needlerest::engine::JobCard;
use std::fs;
use tempfile::tempdir;

const QUESTIONS: usize = 19;

#[test]
fn enter_at_every_question_writes_a_sound_card() {
    let folder = tempdir().unwrap();
    let output = run_with_input(
        folder.path(),
        &["card", "my-pump.toml"],
        &"\n".repeat(QUESTIONS),
    );
    assert_eq!(code(&output), 0, "{}", complaint(&output));
    let text = fs::read_to_string(folder.path().join("my-pump.toml")).unwrap();
    let card = JobCard::parse(&text).unwrap();
    assert_eq!(card.engine.label, "My pump");
    assert_eq!(card.limits.and_then(|limits| limits.service_limit), None);
}

#[test]
fn a_mistaken_answer_is_told_and_asked_again() {
    let folder = tempdir().unwrap();
    let answers = format!("\nbar\n\n\n3\nrocket\nkick\n{}", "\n".repeat(QUESTIONS));
    let output = run_with_input(folder.path(), &["card", "a.toml"], &answers);
    assert_eq!(code(&output), 0, "{}", complaint(&output));
    assert!(printed(&output).contains("the choice is electric, kick"));
    let text = fs::read_to_string(folder.path().join("a.toml")).unwrap();
    assert!(
        text.contains("start = \"kick\"") && text.contains("unit = \"bar\""),
        "{text}"
    );
}

#[test]
fn options_answer_and_are_not_asked() {
    let folder = tempdir().unwrap();
    let arguments = [
        "card",
        "v.toml",
        "--no-questions",
        "--label",
        "V six",
        "--cylinders",
        "1 3 5 / 2 4 6",
        "--bore",
        "3.5 in",
        "--stroke",
        "80",
        "--ratio",
        "9:1",
        "--service-limit",
        "8.3 bar",
        "--altitude",
        "1000 ft",
        "--unit",
        "bar",
    ];
    let output = run_in(folder.path(), &arguments);
    assert_eq!(code(&output), 0, "{}", complaint(&output));
    let text = fs::read_to_string(folder.path().join("v.toml")).unwrap();
    let card = JobCard::parse(&text).unwrap();
    assert_eq!(card.cylinders.len(), 6);
    assert_eq!(card.cylinders[1].neighbours, ["1", "5"]);
    assert!(printed(&output).contains("needlerest visit v.jsonl --card v.toml"));
}

#[test]
fn a_card_that_is_there_is_kept_unless_told_otherwise() {
    let folder = tempdir().unwrap();
    put(folder.path(), "a.toml", b"mine");
    let kept = run_in(folder.path(), &["card", "a.toml", "--no-questions"]);
    assert_eq!(code(&kept), 1);
    assert_complete(&kept, "a.toml");
    assert_eq!(fs::read(folder.path().join("a.toml")).unwrap(), b"mine");
    let replaced = run_in(
        folder.path(),
        &["card", "a.toml", "--no-questions", "--replace"],
    );
    assert_eq!(code(&replaced), 0, "{}", complaint(&replaced));
    let text = fs::read_to_string(folder.path().join("a.toml")).unwrap();
    assert!(JobCard::parse(&text).is_ok(), "{text}");
}

#[test]
fn answers_that_end_early_write_nothing() {
    let folder = tempdir().unwrap();
    let output = run_with_input(folder.path(), &["card", "a.toml"], "Pump\nbar\n");
    assert_eq!(code(&output), 130);
    assert_complete(&output, "--cycle");
    assert!(!folder.path().join("a.toml").exists());
}

#[test]
fn an_option_that_makes_no_sense_is_named() {
    let folder = tempdir().unwrap();
    for (option, value) in [
        ("--bore", "9000"),
        ("--ratio", "ninety"),
        ("--cylinders", "1 1"),
        ("--service-limit", "12 parsec"),
        ("--cycle", "six-stroke"),
    ] {
        let arguments = ["card", "a.toml", "--no-questions", option, value];
        let output = run_in(folder.path(), &arguments);
        assert_eq!(code(&output), 2, "{option}");
        assert_complete(&output, option);
        assert!(!folder.path().join("a.toml").exists(), "{option}");
    }
}

#[test]
fn every_range_names_its_source() {
    let text = printed(&run_in(&std::env::temp_dir(), &["card", "--ranges"]));
    for source in [
        "common practice, no source",
        "OD1001",
        "TM 10-3930-618-20",
        "calculated",
    ] {
        assert!(text.contains(source), "{source}");
    }
}

#[test]
fn a_buyer_is_asked_what_repairs_would_cost() {
    let folder = tempdir().unwrap();
    let answers = format!("{}EUR\n900\n450\n250\n", "\n".repeat(QUESTIONS - 1));
    let output = run_with_input(folder.path(), &["card", "pump.toml"], &answers);
    assert_eq!(code(&output), 0, "{}", complaint(&output));
    let text = fs::read_to_string(folder.path().join("pump.toml")).unwrap();
    let costs = JobCard::parse(&text).unwrap().costs.unwrap();
    let sums = (costs.top_end, costs.valve_job, costs.gasket);
    assert_eq!(sums, (Some(900.0), Some(450.0), Some(250.0)));
    let output = run_with_input(
        folder.path(),
        &["card", "b.toml", "--gasket-cost", "250"],
        "",
    );
    assert_eq!(code(&output), 2);
    assert!(
        complaint(&output).contains("--currency"),
        "{}",
        complaint(&output)
    );
}

/// Editors and shells of Windows write UTF-8 with a mark in front, UTF-16 with one, and CR LF.
#[test]
fn a_card_as_windows_writes_it_says_the_same() {
    let folder = tempdir().unwrap();
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let card = fs::read_to_string(root.join("demo/otter.card.toml")).unwrap();
    let recording = root.join("demo/otter.jsonl");
    let little: Vec<u8> = units(&card).flat_map(u16::to_le_bytes).collect();
    let big: Vec<u8> = units(&card).flat_map(u16::to_be_bytes).collect();
    let findings = |name: &str, bytes: &[u8]| {
        put(folder.path(), name, bytes);
        let recording = recording.to_str().unwrap();
        run_in(folder.path(), &["replay", recording, "--card", name])
    };
    let plain = findings("plain.toml", card.as_bytes());
    assert_eq!(code(&plain), 0, "{}", complaint(&plain));
    for (name, bytes) in [
        ("crlf.toml", card.replace('\n', "\r\n").into_bytes()),
        ("mark.toml", format!("\u{feff}{card}").into_bytes()),
        ("little.toml", little.clone()),
        ("big.toml", big),
    ] {
        let said = findings(name, &bytes);
        assert_eq!(
            printed(&said),
            printed(&plain),
            "{name}: {}",
            complaint(&said)
        );
    }
    let torn = findings("torn.toml", &little[..little.len() - 1]);
    assert_eq!(code(&torn), 4);
    assert_complete(&torn, "torn.toml");
}

fn units(text: &str) -> impl Iterator<Item = u16> + use<'_> {
    std::iter::once(0xFEFF).chain(text.encode_utf16())
}
