//! The house rules: who may import whom, what the pure rooms may not touch, and that every file
//! stays small. The table here is the one in DEVELOPERS.md.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Each room and the rooms that it may import.
const MAY_IMPORT: [(&str, &[&str]); 12] = [
    ("units", &[]),
    ("protocol", &["units"]),
    ("signal", &["units"]),
    ("engine", &["units"]),
    ("assess", &["units", "signal", "engine"]),
    ("session", &["units", "signal", "engine", "assess"]),
    ("recording", &["units", "protocol", "engine"]),
    ("simulate", &["units", "engine", "protocol", "recording"]),
    (
        "transport",
        &["units", "protocol", "recording", "simulate", "engine"],
    ),
    (
        "pipeline",
        &[
            "units",
            "protocol",
            "recording",
            "signal",
            "engine",
            "assess",
        ],
    ),
    (
        "report",
        &[
            "units",
            "signal",
            "engine",
            "assess",
            "pipeline",
            "session",
            "recording",
        ],
    ),
    (
        "cli",
        &[
            "units",
            "protocol",
            "signal",
            "engine",
            "assess",
            "session",
            "recording",
            "simulate",
            "transport",
            "pipeline",
            "report",
        ],
    ),
];

/// Rooms without clock, I/O or chance.
const PURE: [&str; 6] = ["units", "protocol", "signal", "engine", "assess", "session"];

/// What a pure room may not touch, and why.
const IMPURE: [(&str, &str); 10] = [
    ("std::time::", "reads a clock"),
    ("std::fs", "does I/O"),
    ("std::io", "does I/O"),
    ("std::net", "does I/O"),
    ("std::env", "reads the environment"),
    ("println!", "prints"),
    ("tokio::", "does I/O"),
    ("rand_pcg", "draws numbers"),
    ("HashMap", "iterates in a random order"),
    ("HashSet", "iterates in a random order"),
];

fn source() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn rust_files(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).expect("a folder of the source") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
    files.sort();
    files
}

/// The code of a file: comments and everything from its unit tests on left out.
fn code(path: &Path) -> String {
    let text = fs::read_to_string(path).expect("a source file");
    let before_tests = text.split("#[cfg(test)]\nmod ").next().unwrap_or_default();
    before_tests
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .collect::<Vec<_>>()
        .join("\n")
}

/// Rooms that a text names as `crate::room`, also within `use crate::{a, b}`.
fn rooms_named(code: &str) -> BTreeSet<&'static str> {
    let names = MAY_IMPORT.map(|(room, _)| room);
    let mut found = BTreeSet::new();
    for (at, _) in code.match_indices("crate::") {
        let rest = &code[at + "crate::".len()..];
        let named = match rest.strip_prefix('{') {
            Some(list) => list
                .split('}')
                .next()
                .unwrap_or_default()
                .split(',')
                .collect(),
            None => vec![rest],
        };
        for item in named {
            let word: String = item
                .trim()
                .chars()
                .take_while(|c| c.is_alphanumeric() || *c == '_')
                .collect();
            found.extend(names.into_iter().find(|name| *name == word));
        }
    }
    found
}

#[test]
fn every_room_is_known() {
    for entry in fs::read_dir(source()).expect("src") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_name()
            .and_then(|n| n.to_str())
            .expect("a name")
            .to_owned();
        let known = MAY_IMPORT.iter().any(|(room, _)| *room == name);
        assert!(
            known || ["lib.rs", "main.rs"].contains(&name.as_str()),
            "unknown room {name}"
        );
    }
}

#[test]
fn rooms_import_only_what_they_may() {
    for (room, allowed) in MAY_IMPORT {
        for file in rust_files(&source().join(room)) {
            for named in rooms_named(&code(&file)) {
                assert!(
                    named == room || allowed.contains(&named),
                    "{}: {room} may not import {named}",
                    file.display()
                );
            }
        }
    }
}

#[test]
fn pure_rooms_touch_no_clock_no_file_and_no_chance() {
    for room in PURE {
        for file in rust_files(&source().join(room)) {
            let code = code(&file);
            for (word, why) in IMPURE {
                assert!(!code.contains(word), "{}: {word} {why}", file.display());
            }
        }
    }
}

#[test]
fn files_stay_small() {
    for file in rust_files(&source()) {
        let lines = fs::read_to_string(&file)
            .expect("a source file")
            .lines()
            .count();
        assert!(
            lines <= 600,
            "{} has {lines} lines: would two files serve better?",
            file.display()
        );
    }
}

#[test]
fn the_import_check_sees_what_it_should() {
    let named = rooms_named("use crate::units::Time;\nuse crate::{signal::Rig, report::text};");
    assert_eq!(named, BTreeSet::from(["units", "signal", "report"]));
    assert!(rooms_named("use crate::unitsandmore::X;").is_empty());
}
