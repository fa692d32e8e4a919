//! A sensor held against a gauge, and what is made of it: check, settings, recording, report, verify.

use crate::tool::{assert_complete, code, complaint, printed, put, run_at_home, run_at_home_with};
use needlerest::correction::{Check, Checked, Point};
use needlerest::recording::{CORRECTED_VERSION, Header, Reader, Record, Writer};
use needlerest::units::Pressure;
use serde_json::Value;
use std::fs;
use std::io::Cursor;
use std::path::Path;
use tempfile::{TempDir, tempdir};

const RECIPE: &str = include_str!("../../demo/practice/starter-twin.recipe.toml");
const OTTER: &str = include_str!("../../demo/otter.jsonl");

/// The practice twin's first two runs, read by a sensor that is off by this share of the span and
/// this much at zero.
fn recipe(home: &Path, name: &str, span: f64, offset_kpa: f64) {
    let (text, _) = RECIPE
        .split_once("[[run]]\ncylinder = \"1\"\ncondition = \"warm-dry\"")
        .unwrap();
    let sensor = format!("offset_kpa = {offset_kpa:?}\nspan_error = {span:?}");
    let text = text.replace("offset_kpa = 1.2", &sensor);
    assert!(text.contains(&sensor));
    put(home, name, text.as_bytes());
}

const CHECK: [&str; 9] = [
    "sensors",
    "check",
    "shed",
    "--reference",
    "tyre pump",
    "--accuracy",
    "0.02 bar",
    "--speed",
    "0",
];

/// Types what the virtual pump's gauge reads.
const READ: &str = "yes\n1.6\n3,2\n4.8 bar\n6.4\n116.03 psi\n";

fn checked(home: &Path, recipe: &str, typed: &str) -> String {
    let arguments = [&CHECK[..], &["--virtual", recipe]].concat();
    let output = run_at_home_with(home, &arguments, typed);
    assert_eq!(
        code(&output),
        0,
        "{}{}",
        printed(&output),
        complaint(&output)
    );
    printed(&output)
}

fn settings(home: &Path) -> std::path::PathBuf {
    home.join("needlerest").join("sensors.toml")
}

fn recorded(home: &Path, file: &str, recipe: &str, more: &[&str]) -> String {
    let arguments = [&["record", file, "--virtual", recipe, "--speed", "0"], more].concat();
    let output = run_at_home(home, &arguments);
    assert_eq!(code(&output), 0, "{}", complaint(&output));
    complaint(&output)
}

fn findings(home: &Path, file: &str) -> Value {
    let output = run_at_home(home, &["replay", file, "--json"]);
    serde_json::from_slice(&output.stdout).expect("findings")
}

/// Readings and their uncertainties in pascal.
fn readings(findings: &Value) -> Vec<(f64, f64)> {
    let runs = findings["runs"].as_array().unwrap();
    let of = |reading: &Value, entry: &str| reading[entry].as_f64().unwrap();
    let read = runs.iter().map(|run| &run["result"]["reading"]);
    read.map(|reading| (of(reading, "value_pa"), of(reading, "expanded_pa")))
        .collect()
}

/// A home with a sensor that tells 4 % too much and 6 kPa at zero, checked.
fn home() -> TempDir {
    let home = tempdir().unwrap();
    recipe(home.path(), "off.toml", 0.04, 6.0);
    recipe(home.path(), "true.toml", 0.0, 0.0);
    checked(home.path(), "off.toml", READ);
    home
}

#[test]
fn the_way_through_a_check() {
    let home = tempdir().unwrap();
    recipe(home.path(), "off.toml", 0.04, 6.0);
    let text = checked(home.path(), "off.toml", READ);
    assert!(text.starts_with("CAUTION."), "{text}");
    for said in [
        "proof pressure",
        "Point 5 of 5",
        "too much at 8.00 bar",
        "not corrected yet",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    assert!(
        text.lines().all(|line| line.chars().count() <= 100),
        "{text}"
    );
    let kept = fs::read_to_string(settings(home.path())).unwrap();
    assert_eq!(
        kept.matches("[[shed.check.last.point]]").count(),
        6,
        "{kept}"
    );
    assert!(!kept.contains("corrected"), "{kept}");
    let list = printed(&run_at_home(home.path(), &["sensors"]));
    assert!(
        list.contains("not corrected; checked") && list.contains("tyre pump"),
        "{list}"
    );
}

#[test]
fn a_correction_is_applied_only_when_told() {
    let home = home();
    let home = home.path();
    recorded(home, "raw.jsonl", "off.toml", &[]);
    let said = recorded(home, "good.jsonl", "off.toml", &["--corrected", "shed"]);
    assert!(said.contains("readings are corrected"), "{said}");
    recorded(home, "truth.jsonl", "true.toml", &[]);
    let (raw, good) = (findings(home, "raw.jsonl"), findings(home, "good.jsonl"));
    let truth = findings(home, "truth.jsonl");
    assert!(raw["sensor"].get("correction").is_none());
    let before = good["sensor"]["correction"]["before_pa"]
        .as_array()
        .unwrap();
    let (raw, good, truth) = (readings(&raw), readings(&good), readings(&truth));
    assert!(!truth.is_empty() && truth.len() == before.len());
    for (n, (truth, _)) in truth.iter().enumerate() {
        let ((good, expanded), (raw, _)) = (good[n], raw[n]);
        assert!(
            (good - truth).abs() <= expanded,
            "{good} ± {expanded}, {truth}"
        );
        assert!(raw / truth > 1.03 && raw / truth < 1.05, "{raw}, {truth}");
        let before = before[n].as_f64().unwrap();
        assert!((before / raw - 1.0).abs() < 0.001, "{before}, {raw}");
    }
}

#[test]
fn every_report_says_so_and_verify_repeats_it() {
    let home = home();
    let home = home.path();
    recorded(home, "good.jsonl", "off.toml", &["--corrected", "shed"]);
    let replayed = run_at_home(home, &["replay", "good.jsonl", "--report", "report"]);
    let text = printed(&replayed);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for said in ["The sensor", "against \"tyre pump\"", "before,", "after"] {
        assert!(words.contains(said), "{said}: {text}");
    }
    let page = fs::read_to_string(home.join("report").join("index.html")).unwrap();
    for said in [
        "tyre pump",
        "Reading before the correction",
        "correction&#x2f;before_pa&#x2f;0",
    ] {
        assert!(page.contains(said), "{said}");
    }
    assert!(
        page.contains("sensor correction"),
        "the budget of a reading"
    );
    let verified = run_at_home(home, &["verify", "report", "good.jsonl"]);
    assert_eq!(
        code(&verified),
        0,
        "{}{}",
        printed(&verified),
        complaint(&verified)
    );
    // A recording of a recording keeps it.
    let copied = run_at_home(
        home,
        &[
            "record",
            "copy.jsonl",
            "--replay",
            "good.jsonl",
            "--speed",
            "0",
        ],
    );
    assert_eq!(code(&copied), 0, "{}", complaint(&copied));
    assert_eq!(
        findings(home, "copy.jsonl")["sensor"],
        findings(home, "good.jsonl")["sensor"]
    );
    let inspected = printed(&run_at_home(home, &["inspect", "good.jsonl"]));
    assert!(inspected.contains("tyre pump"), "{inspected}");
}

#[test]
fn on_and_off() {
    let home = home();
    let home = home.path();
    let on = run_at_home(home, &["sensors", "correct", "shed", "on"]);
    assert_eq!(code(&on), 0, "{}", complaint(&on));
    assert!(
        fs::read_to_string(settings(home))
            .unwrap()
            .contains("corrected = true")
    );
    // A new check is not applied before somebody says so.
    checked(home, "off.toml", READ);
    assert!(
        !fs::read_to_string(settings(home))
            .unwrap()
            .contains("corrected = true")
    );
    let off = run_at_home(home, &["sensors", "correct", "shed", "off"]);
    assert_eq!(code(&off), 0);
    let nobody = run_at_home(home, &["sensors", "correct", "barn", "on"]);
    assert_eq!(code(&nobody), 2);
    assert_complete(&nobody, "sensors.toml");
}

#[test]
fn an_old_check_and_a_drift_are_told() {
    let home = home();
    let home = home.path();
    let kept = fs::read_to_string(settings(home)).unwrap();
    let (before, after) = kept.split_once("date = \"").unwrap();
    let after = after.split_once('"').unwrap().1;
    fs::write(
        settings(home),
        format!("{before}date = \"2019-03-01\"{after}"),
    )
    .unwrap();
    let list = printed(&run_at_home(home, &["sensors"]));
    assert!(list.contains("more than a year before"), "{list}");
    let said = recorded(home, "old.jsonl", "off.toml", &["--corrected", "shed"]);
    assert!(said.contains("more than a year before"), "{said}");
    // The same sensor has moved by three per cent since.
    recipe(home, "moved.toml", 0.07, 6.0);
    let text = checked(home, "moved.toml", READ);
    assert!(
        text.contains("The sensor has drifted: at 8.00 bar"),
        "{text}"
    );
    let said = recorded(home, "moved.jsonl", "moved.toml", &["--corrected", "shed"]);
    assert!(
        said.contains("has drifted") && !said.contains("more than a year"),
        "{said}"
    );
    let report = printed(&run_at_home(home, &["replay", "moved.jsonl"]));
    assert!(report.contains("The sensor has drifted"), "{report}");
}

#[test]
fn words_and_wrong_answers() {
    let home = tempdir().unwrap();
    recipe(home.path(), "off.toml", 0.04, 6.0);
    let typed = "perhaps\nyes\nlots\n200 bar\n16\n1.6\n1.0\nback\n1.6\nskip\ndone\n";
    let arguments = [&CHECK[..], &["--virtual", "off.toml"]].concat();
    let output = run_at_home_with(home.path(), &arguments, typed);
    let text = printed(&output);
    for said in [
        "Say yes or no",
        "no pressure",
        "beyond the sensor's range",
        "This cannot be",
        "taken back",
    ] {
        assert!(text.contains(said), "{said}: {text}");
    }
    // What was passed over is no point; zero and one pressure are a check.
    assert_eq!(code(&output), 0, "{text}{}", complaint(&output));
    let kept = fs::read_to_string(settings(home.path())).unwrap();
    assert_eq!(
        kept.matches("[[shed.check.last.point]]").count(),
        2,
        "{kept}"
    );
    // Stopped, or ended before anything was read: nothing is kept.
    for typed in ["yes\nstop\n", ""] {
        let home = tempdir().unwrap();
        recipe(home.path(), "off.toml", 0.04, 6.0);
        let output = run_at_home_with(home.path(), &arguments, typed);
        assert_eq!(code(&output), 130, "{}", printed(&output));
        assert!(!settings(home.path()).exists());
    }
    // Zero alone is no check.
    let output = run_at_home_with(home.path(), &arguments, "yes\n");
    assert_eq!(code(&output), 5, "{}", printed(&output));
}

#[test]
fn what_makes_no_sense_is_refused_before_anyone_pumps() {
    let home = tempdir().unwrap();
    let with = |more: &[&str]| {
        let arguments = [&["sensors", "check", "shed"], more].concat();
        run_at_home(home.path(), &arguments)
    };
    let gauge = ["--reference", "pump", "--accuracy", "0.1 bar"];
    for (more, exit, place) in [
        (
            &["--reference", " ", "--accuracy", "0.1 bar", "--virtual"][..],
            2,
            "--reference",
        ),
        (
            &["--reference", "pump", "--accuracy", "0 bar", "--virtual"],
            2,
            "--accuracy",
        ),
        (
            &[&gauge[..], &["--virtual", "--up-to", "300 bar"]].concat(),
            2,
            "--up-to",
        ),
        (
            &[&gauge[..], &["--virtual", "--up-to", "0 bar"]].concat(),
            2,
            "--up-to",
        ),
        (&gauge, 2, "sensors.toml"),
    ] {
        let output = with(more);
        assert_eq!(code(&output), exit, "{more:?}: {}", complaint(&output));
        assert!(
            complaint(&output).contains(place),
            "{more:?}: {}",
            complaint(&output)
        );
    }
    assert_eq!(code(&with(&["--reference", "pump"])), 2);
    assert_eq!(
        code(&with(
            &[&gauge[..], &["--virtual", "--points", "6"]].concat()
        )),
        2
    );
}

#[test]
fn another_sensors_check_is_refused() {
    let home = home();
    let home = home.path();
    let other = "[barn]\naddress = \"AA:BB:CC:DD:EE:FF\"\n";
    let kept = fs::read_to_string(settings(home)).unwrap();
    let moved = kept.replace("address = \"simulated\"", "address = \"AA:BB:CC:DD:EE:00\"");
    fs::write(settings(home), format!("{moved}\n{other}")).unwrap();
    for (name, exit) in [("shed", 6), ("barn", 6), ("nobody", 2)] {
        let arguments = [
            "record",
            "a.jsonl",
            "--virtual",
            "off.toml",
            "--speed",
            "0",
            "--corrected",
            name,
        ];
        let output = run_at_home(home, &arguments);
        assert_eq!(code(&output), exit, "{name}: {}", complaint(&output));
        assert_complete(&output, "--corrected");
    }
    let arguments = [&CHECK[..], &["--virtual", "off.toml"]].concat();
    let output = run_at_home_with(home, &arguments, READ);
    assert_eq!(code(&output), 6, "{}", complaint(&output));
}

#[test]
fn hostile_settings_are_refused_by_place() {
    let home = home();
    let home = home.path();
    let kept = fs::read_to_string(settings(home)).unwrap();
    for (from, to, place) in [
        ("date = \"20", "date = \"x20", "check: date"),
        (
            "reference = \"tyre pump\"",
            "reference = \"a\\u001b[2J\"",
            "check: reference",
        ),
        (
            "gauge_pa = 320000.0",
            "gauge_pa = nan",
            "check: point 3, gauge_pa",
        ),
        (
            "gauge_pa = 320000.0",
            "gauge_pa = 1.0",
            "check: point 3, gauge_pa",
        ),
        (
            "reference_accuracy_pa = 2000.0",
            "reference_accuracy_pa = -1.0",
            "reference_accuracy_pa",
        ),
        (
            "gauge_pa = 0.0",
            "gauge_pa = 0.0\nextra = 1",
            "sensors.toml",
        ),
        ("advertised", "corrected = true\nunknown", "sensors.toml"),
    ] {
        assert!(kept.contains(from), "{from}: {kept}");
        fs::write(settings(home), kept.replacen(from, to, 1)).unwrap();
        let output = run_at_home(home, &["sensors"]);
        assert_eq!(
            code(&output),
            4,
            "{to}: {}{}",
            printed(&output),
            complaint(&output)
        );
        assert_complete(&output, place);
    }
    fs::write(
        settings(home),
        "[a]\naddress = \"simulated\"\ncorrected = true\n",
    )
    .unwrap();
    assert_complete(&run_at_home(home, &["sensors"]), "check: corrected");
}

/// A recording with another header.
fn rewritten(change: impl FnOnce(&mut Header)) -> Vec<u8> {
    let reader = Reader::new(Cursor::new(OTTER)).unwrap();
    let mut header = reader.header().clone();
    change(&mut header);
    let mut writer = Writer::begin(Vec::new(), &header).unwrap();
    for line in reader {
        match line.unwrap().outcome.unwrap() {
            Record::Packet(packet) => writer.packet(&packet).unwrap(),
            Record::Event(event) => writer.event(&event).unwrap(),
            Record::Header(_) | Record::Seal(_) => {}
        }
    }
    writer.seal().unwrap().0
}

fn sound() -> Checked {
    let point = |gauge: f64| Point {
        gauge: Pressure::from_pa(gauge),
        told: Pressure::from_pa(gauge * 1.02 + 500.0),
        standard: Pressure::from_pa(20.0),
    };
    let check = Check {
        date: "2026-04-01".to_owned(),
        reference: "made up".to_owned(),
        accuracy: Pressure::from_pa(3e3),
        absolute: false,
        points: [0.0, 4e5, 8e5].map(point).into(),
    };
    Checked::anew(check, None)
}

fn corrected(header: &mut Header, change: impl FnOnce(&mut Check)) {
    let mut checked = sound();
    change(&mut checked.last);
    header.version = CORRECTED_VERSION;
    header.sensor.correction = Some(checked);
}

/// What is done to a sound check.
type Change = fn(&mut Check);

#[test]
fn hostile_headers_are_refused_by_place() {
    let home = tempdir().unwrap();
    let replayed = |bytes: &[u8]| {
        put(home.path(), "a.jsonl", bytes);
        run_at_home(home.path(), &["replay", "a.jsonl"])
    };
    let good = replayed(&rewritten(|header| corrected(header, |_| {})));
    assert_eq!(code(&good), 0, "{}", complaint(&good));
    let cases: [(&str, Change); 5] = [
        ("date", |check| check.date = "soon".to_owned()),
        ("point", |check| check.points.clear()),
        ("point 2, told_pa", |check| {
            check.points[1].told = Pressure::from_pa(-1e9);
        }),
        ("reference", |check| {
            check.reference = "\u{202e}\n".to_owned();
        }),
        ("absolute", |check| check.absolute = true),
    ];
    for (place, change) in cases {
        let output = replayed(&rewritten(|header| corrected(header, change)));
        assert_eq!(code(&output), 4, "{place}: {}", complaint(&output));
        let said = complaint(&output);
        assert!(
            said.contains("check in the recording") && said.contains(place),
            "{place}: {said}"
        );
    }
    // Version 1 knows of no correction: it must not be passed over.
    let old = replayed(&rewritten(|header| {
        corrected(header, |_| {});
        header.version = 1;
    }));
    assert_eq!(code(&old), 4, "{}", complaint(&old));
}

#[test]
fn one_corrected_and_one_not_is_told() {
    let home = tempdir().unwrap();
    put(home.path(), "raw.jsonl", OTTER.as_bytes());
    put(
        home.path(),
        "good.jsonl",
        &rewritten(|header| corrected(header, |_| {})),
    );
    let compared =
        |before: &str, after: &str| printed(&run_at_home(home.path(), &["compare", before, after]));
    let text = compared("raw.jsonl", "good.jsonl");
    assert!(
        text.contains("Only the later readings were corrected"),
        "{text}"
    );
    let text = compared("good.jsonl", "raw.jsonl");
    assert!(
        text.contains("Only the earlier readings were corrected"),
        "{text}"
    );
    let text = compared("good.jsonl", "good.jsonl");
    assert!(!text.contains("corrected by"), "{text}");
    let text = printed(&run_at_home(home.path(), &["overview", "."]));
    assert!(text.contains("good.jsonl (corrected)"), "{text}");
    assert!(!text.contains("raw.jsonl (corrected)"), "{text}");
}
