//! `leak-down` from its first prompt to the verified report, on a virtual air line: whoever sits at it
//! answers what is asked.

use crate::tool::{code, complaint, printed, put, run_in, run_with_input};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, ExitStatus, Stdio};
use std::time::Duration;
use tempfile::tempdir;

const RECIPE: &str = include_str!("../../demo/practice/starter-twin.recipe.toml");
const CARD: &str = include_str!("../../demo/practice/starter-twin.card.toml");
/// The leak of cylinder 2 in that recipe, mm².
const LEAK_MM2: f64 = 0.9;

/// A supply that goes up and down by two per cent to either side.
const MOVING: &str = "\n[air]\nsupply_kpa = 552.0\nwobble = 0.02\ncycle_s = 50.0\nnoise = 0.002\n\
                      restrictor_mm = 1.0\ncoefficient = 0.85\nhose_cm3 = 30.0\n";

/// Enter, but only once whoever fills it at the virtual air line has done so.
const FILLED: &str = " ";

/// What is asked, by words of it, and what is answered.
type Answers<'a> = &'a [(&'a str, &'a str)];

/// Gives each answer when its question comes; gives all that was said, and how it ended.
fn dialogue(folder: &Path, arguments: &[&str], answers: Answers<'_>) -> (String, ExitStatus) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_needlerest"))
        .args([
            "leak-down",
            "air.jsonl",
            "--virtual",
            "twin.toml",
            "--speed",
            "8",
        ])
        .args(arguments)
        .current_dir(folder)
        .env("XDG_CONFIG_HOME", folder.join("no-settings"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program starts");
    let mut typed = child.stdin.take();
    let mut lines = BufReader::new(child.stdout.take().expect("standard output")).lines();
    let mut said = String::new();
    let mut asked = 0;
    let mut seen = 0;
    while let Some(line) = lines.next().transpose().expect("text") {
        said.push_str(line.trim());
        said.push(' ');
        let Some((question, answer)) = answers.get(asked) else {
            continue;
        };
        if let Some(at) = said[seen..].find(question) {
            seen += at + question.len();
            asked += 1;
            if *answer == FILLED {
                std::thread::sleep(Duration::from_secs(2));
            }
            let typed_in = typed.as_mut().expect("not all is answered");
            writeln!(typed_in, "{}", answer.trim()).expect("it listens");
            if asked == answers.len() {
                typed = None;
            }
        }
    }
    assert_eq!(
        asked,
        answers.len(),
        "not asked: {:?}\n{said}",
        answers.get(asked)
    );
    (said, child.wait().expect("the program ends"))
}

fn folder() -> tempfile::TempDir {
    let folder = tempdir().expect("a folder");
    put(folder.path(), "twin.toml", RECIPE.as_bytes());
    put(folder.path(), "card.toml", CARD.as_bytes());
    folder
}

/// One cylinder, as a user goes through it.
const ONE: [(&str, &str); 10] = [
    ("nothing under pressure. Enter when so.", ""),
    ("Enter when so.", ""),
    ("supply: ", ""),
    ("to the top of its compression stroke", ""),
    ("Where is air heard?", "breather"),
    ("a little before the top", "skip"),
    ("a little after the top", "skip"),
    ("the supply is read once more. Enter when shut.", ""),
    ("supply: ", ""),
    ("Then take the tester off.", ""),
];

fn findings(folder: &Path) -> serde_json::Value {
    let output = run_in(folder, &["replay", "air.jsonl", "--json"]);
    serde_json::from_slice(&output.stdout).expect("JSON")
}

#[test]
fn a_cylinder_is_led_through_recorded_reported_and_verified() {
    let folder = folder();
    let arguments = ["--card", "card.toml", "--cylinder", "2"];
    let (said, ended) = dialogue(folder.path(), &arguments, &ONE);
    assert_eq!(ended.code(), Some(0), "{said}");
    // Before anything is asked, what to mind.
    let caution = said.find("Leak-down air turns the crank.").expect("said");
    assert!(caution < said.find("> ").expect("asked"));
    assert!(said.contains("Sealed: air.jsonl"), "{said}");
    assert!(
        said.contains("Air is heard at the crankcase breather"),
        "{said}"
    );
    let findings = findings(folder.path());
    let [test] = findings["air"].as_array().expect("tests").as_slice() else {
        panic!("one test: {}", findings["air"]);
    };
    assert_eq!(
        (&test["test"], &test["cylinder"]),
        (&"leak-down".into(), &"2".into())
    );
    assert_eq!(
        test["supply"].as_array().map(Vec::len),
        Some(2),
        "before and after"
    );
    let leak = test["held"][0]["leak"]["mm2"].as_f64().expect("a leak");
    assert!((leak / LEAK_MM2 - 1.0).abs() < 0.1, "{leak}");
    assert_eq!(
        findings["runs"].as_array().map(Vec::len),
        Some(0),
        "air is no cranking"
    );
    let run = |arguments: &[&str]| run_in(folder.path(), arguments);
    let made = run(&["replay", "air.jsonl", "--report", "made"]);
    assert_eq!(
        code(&made),
        5,
        "no cylinder was cranked: {}",
        complaint(&made)
    );
    let verified = run(&["verify", "made", "air.jsonl"]);
    assert_eq!(
        code(&verified),
        0,
        "{}{}",
        printed(&verified),
        complaint(&verified)
    );
    // The same recording goes on: the other cylinder, and the tester.
    let (said, ended) = dialogue(folder.path(), &["--cylinder", "1"], &ONE);
    assert_eq!(ended.code(), Some(0), "{said}");
    let tests = self::findings(folder.path())["air"].clone();
    assert_eq!(tests.as_array().map(Vec::len), Some(2), "{tests}");
}

/// A leak that the moving supply hides: both sides are asked for in turn, with the reason, and what
/// that comes to is in the findings. The engine is cooled by air: nobody hears air in its coolant.
#[test]
fn rounds_are_asked_for_and_a_place_that_is_not_there_is_refused() {
    let folder = folder();
    let leaking = RECIPE.replace("ring_leak_mm2 = 0.9", "ring_leak_mm2 = 0.55");
    put(
        folder.path(),
        "twin.toml",
        format!("{leaking}{MOVING}").as_bytes(),
    );
    let cycle = "cycle = \"four-stroke\"";
    let cooled = CARD.replace(cycle, &format!("{cycle}\ncooling = \"air\""));
    put(folder.path(), "card.toml", cooled.as_bytes());
    let mut answers = ONE[..4].to_vec();
    answers.extend([
        ("Where is air heard?", "coolant"),
        ("the places that fit are intake, exhaust, breather", "3"),
        ("The supply moves, so the leak is known to", ""),
        ("open the cylinder's side slowly. Enter when open.", ""),
        ("Shut the cylinder's side. Enter when shut.", "skip"),
        ("a little before the top", "skip"),
        ("a little after the top", "skip"),
        ("Then take the tester off.", ""),
    ]);
    let arguments = ["--card", "card.toml", "--cylinder", "2"];
    let (said, ended) = dialogue(folder.path(), &arguments, &answers);
    assert_eq!(ended.code(), Some(0), "{said}");
    let test = &findings(folder.path())["air"][0];
    assert_eq!(test["heard"][0], "breather", "{test}");
    let held = test["held"].as_array().expect("held");
    assert_eq!((held.len(), &held[0]["rounds"]), (1, &1.into()), "{test}");
    let leak = held[0]["leak"]["mm2"].as_f64().expect("a leak");
    assert!((leak / 0.55 - 1.0).abs() < 0.15, "{leak}");
}

#[test]
fn the_tester_alone_is_filled_and_watched() {
    let folder = folder();
    let answers = [
        ("Plug its end.", ""),
        ("Fill the tester slowly", "wait"),
        ("\"wait\" is not understood", FILLED),
        ("Then take the plug off its end.", ""),
    ];
    let (said, ended) = dialogue(folder.path(), &["--tester", "--volume", "35"], &answers);
    assert_eq!(ended.code(), Some(0), "{said}");
    assert!(said.contains("The tester is tight: it lost"), "{said}");
    let test = &findings(folder.path())["air"][0];
    assert_eq!(test["filled"], "tester");
    let from = test["result"]["from_pa"].as_f64().expect("it was filled");
    assert!((from / 552e3 - 1.0).abs() < 0.05, "{from}");
}

/// The answers end before the test does: what was recorded is kept.
#[test]
fn a_test_that_is_broken_off_is_kept() {
    let folder = folder();
    let (said, ended) = dialogue(folder.path(), &["--cylinder", "2"], &ONE[..4]);
    assert_eq!(ended.code(), Some(130), "{said}");
    let test = &findings(folder.path())["air"][0];
    assert_eq!(test["supply"].as_array().map(Vec::len), Some(1), "{test}");
}

#[test]
fn what_cannot_be_is_refused_with_its_own_exit_code() {
    let folder = folder();
    let run = |arguments: &[&str]| {
        let start = ["leak-down", "air.jsonl", "--virtual", "twin.toml"];
        run_with_input(folder.path(), &[&start, arguments].concat(), "")
    };
    let odd = run(&["--card", "card.toml", "--cylinder", "7"]);
    assert_eq!(code(&odd), 2);
    assert!(
        complaint(&odd).contains("no cylinder \"7\""),
        "{}",
        complaint(&odd)
    );
    assert_eq!(code(&run(&["--restrictor", "1 foot"])), 2);
    assert_eq!(code(&run(&["--tester", "--cylinder", "2"])), 2);
    // No such file; and one that is no card.
    assert_eq!(code(&run(&["--card", "none.toml"])), 1);
    assert_eq!(code(&run(&["--card", "twin.toml"])), 4);
    // Its words end at once.
    let stopped = run(&["--cylinder", "2", "--cautions-read"]);
    assert_eq!(code(&stopped), 130, "{}", complaint(&stopped));
}
