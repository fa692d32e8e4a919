//! The house rules: who may import whom, what the pure rooms may not touch, and that every file
//! stays small. Picture and table are read from DEVELOPERS.md.

mod circles;
mod sources;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

/// A room and the rooms that it may import, as the table in DEVELOPERS.md says.
type Room = (String, BTreeSet<String>);

fn developers() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("DEVELOPERS.md");
    fs::read_to_string(path).expect("DEVELOPERS.md")
}

/// The table of rooms.
fn rooms() -> Vec<Room> {
    let text = developers();
    let (_, table) = text
        .split_once("| room | holds | may import |")
        .expect("the table of rooms");
    let rows = table.trim_start().lines().skip(1);
    let rows = rows.take_while(|line| line.starts_with('|'));
    let mut rooms: Vec<Room> = rows.map(room).collect();
    let names: Vec<String> = rooms.iter().map(|(name, _)| name.clone()).collect();
    for (name, imports) in &mut rooms {
        if imports.remove("everything") {
            imports.extend(names.iter().filter(|other| *other != name).cloned());
        }
        for import in imports.iter() {
            assert!(names.contains(import), "{name}: no room {import}");
        }
    }
    assert!(rooms.len() > 10, "the table was not understood");
    rooms
}

fn room(row: &str) -> Room {
    let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
    let [name, _, imports] = cells[..] else {
        panic!("three cells: {row}");
    };
    let imports = imports.split(", ").filter(|import| *import != "–");
    let imports = imports.map(str::to_owned).collect();
    (name.trim_matches('`').to_owned(), imports)
}

/// The floors of the picture, from the roof down.
fn floors() -> Vec<BTreeSet<String>> {
    let text = developers();
    let (_, picture) = text.split_once("┌─").expect("the picture of the house");
    let (picture, _) = picture.split_once("└─").expect("the ground");
    let names: BTreeSet<String> = rooms().into_iter().map(|(name, _)| name).collect();
    let floors = picture.lines().filter_map(|line| line.split('│').nth(1));
    floors
        .map(|floor| floor.split_whitespace().map(str::to_owned).collect())
        .map(|words: BTreeSet<String>| words.intersection(&names).cloned().collect())
        .filter(|floor: &BTreeSet<String>| !floor.is_empty())
        .collect()
}

/// Rooms without clock, I/O or chance.
const PURE: [&str; 8] = [
    "units",
    "protocol",
    "correction",
    "signal",
    "engine",
    "leakdown",
    "assess",
    "session",
];

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
fn rooms_named(code: &str, names: &[&str]) -> BTreeSet<String> {
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
            if names.contains(&word.as_str()) {
                found.insert(word);
            }
        }
    }
    found
}

#[test]
fn every_room_is_known() {
    let rooms = rooms();
    for entry in fs::read_dir(source()).expect("src") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_name()
            .and_then(|n| n.to_str())
            .expect("a name")
            .to_owned();
        let known = rooms.iter().any(|(room, _)| *room == name);
        assert!(
            known || ["lib.rs", "main.rs"].contains(&name.as_str()),
            "unknown room {name}"
        );
    }
}

/// What each room imports, and one file that does.
fn real_imports() -> Vec<(String, BTreeMap<String, PathBuf>)> {
    let rooms = rooms();
    let names: Vec<&str> = rooms.iter().map(|(name, _)| name.as_str()).collect();
    let mut all = Vec::new();
    for name in &names {
        let mut found = BTreeMap::new();
        for file in rust_files(&source().join(name)) {
            let named = rooms_named(&code(&file), &names).into_iter();
            found.extend(named.map(|import| (import, file.clone())));
        }
        found.remove(*name);
        all.push(((*name).to_owned(), found));
    }
    all
}

#[test]
fn rooms_import_what_the_table_says_and_nothing_else() {
    for ((room, allowed), (_, real)) in rooms().iter().zip(real_imports()) {
        for (import, file) in &real {
            assert!(
                allowed.contains(import),
                "{}: {room} may not import {import}",
                file.display()
            );
        }
        for import in allowed {
            assert!(
                real.contains_key(import),
                "{room} does not import {import}: take it out of the table in DEVELOPERS.md"
            );
        }
    }
}

#[test]
fn the_picture_shows_every_room_and_imports_go_down_its_stairs() {
    let floors = floors();
    let floor = |room: &str| floors.iter().position(|rooms| rooms.contains(room));
    for (room, real) in real_imports() {
        let here = floor(&room).unwrap_or_else(|| panic!("{room} is not in the picture"));
        for import in real.keys() {
            let there = floor(import).expect("a room of the picture");
            assert!(
                here < there,
                "{room} imports {import}, which is not below it"
            );
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

/// Files of the room `cli` that may speak to the terminal by themselves: the gate, and the gauge,
/// which draws into a buffer that passes the gate.
const SPEAKERS: [&str; 2] = ["cli/out.rs", "cli/visit/screen.rs"];

#[test]
fn everything_printed_passes_the_gate() {
    let mut gates = 0;
    for file in rust_files(&source()) {
        if SPEAKERS.iter().any(|speaker| file.ends_with(speaker)) {
            gates += 1;
            continue;
        }
        let code = code(&file)
            .replace("out::stdout()", "")
            .replace("out::stderr()", "")
            // To ask whether there is a terminal is not to speak to it; nor is a bar of progress,
            // whose words are constants.
            .replace("use_stderr()", "")
            .replace("stdout().is_terminal()", "")
            .replace("stderr().is_terminal()", "")
            .replace("ProgressDrawTarget::stderr()", "");
        for word in [
            "stdout()", "stderr()", "print!", "println!", "dbg!", "anstream",
        ] {
            assert!(!code.contains(word), "{}: {word}", file.display());
        }
    }
    assert_eq!(gates, SPEAKERS.len());
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
    let names = ["units", "signal", "report"];
    let text = "use crate::units::Time;\nuse crate::{signal::Rig, report::text};";
    assert_eq!(rooms_named(text, &names), names.map(str::to_owned).into());
    assert!(rooms_named("use crate::unitsandmore::X;", &names).is_empty());
}
