//! Tables that something else wrote become recordings like any other.

use crate::tool::{assert_complete, code, complaint, printed, put, run_in};
use needlerest::protocol::{Decoder, ProtocolFile, RawSample};
use needlerest::recording::{Event, Reader, Record, SealState};
use needlerest::units::{PressureUnit, Time};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::tempdir;

#[derive(serde::Deserialize)]
struct Facts {
    tables: Vec<TableFacts>,
    times_s: Vec<f64>,
    pressures: Vec<f64>,
}

#[derive(serde::Deserialize)]
struct TableFacts {
    file: String,
    time: String,
    pressure: String,
    sha256: String,
}

fn fixture(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("fixtures/import")
        .join(name)
}

/// What a recording holds.
struct Held {
    header: needlerest::recording::Header,
    samples: Vec<RawSample>,
    events: Vec<Event>,
    lost: u64,
}

fn held(path: &Path) -> Held {
    let bytes = fs::read(path).unwrap();
    let mut reader = Reader::new(bytes.as_slice()).unwrap();
    let header = reader.header().clone();
    let mut decoder = Decoder::new(&ProtocolFile::parse(&header.protocol).unwrap());
    let (mut samples, mut events) = (Vec::new(), Vec::new());
    for line in reader.by_ref() {
        match line.unwrap().outcome.unwrap() {
            Record::Packet(packet) => {
                let at = Time::from_us(packet.t_us);
                decoder.accept(&packet.from, at, &packet.hex, &mut samples);
            }
            Record::Event(event) => events.push(event.event),
            Record::Header(_) | Record::Seal(_) => {}
        }
    }
    assert!(matches!(reader.seal(), SealState::Holds { .. }));
    decoder.flush(&mut samples);
    Held {
        header,
        samples,
        events,
        lost: decoder.counts().lost,
    }
}

/// Every dialect that Python's csv module writes (fixtures/import/make.py): separator, heading and
/// decimal mark are found, and the numbers are those that were written.
#[test]
fn tables_of_any_dialect_read_alike() {
    let text = fs::read_to_string(fixture("tables.json")).unwrap();
    let facts: Facts = serde_json::from_str(&text).unwrap();
    assert!(facts.tables.len() > 5);
    for table in &facts.tables {
        let folder = tempdir().unwrap();
        let path = fixture(&table.file);
        let arguments = [
            "import",
            path.to_str().unwrap(),
            "--time",
            &table.time,
            "--pressure",
            &table.pressure,
            "--unit",
            "psi",
            "--out",
            "made.jsonl",
        ];
        let made = run_in(folder.path(), &arguments);
        assert_eq!(code(&made), 0, "{}: {}", table.file, complaint(&made));
        let held = held(&folder.path().join("made.jsonl"));
        assert_eq!(held.samples.len(), facts.times_s.len(), "{}", table.file);
        for ((sample, time), pressure) in held
            .samples
            .iter()
            .zip(&facts.times_s)
            .zip(&facts.pressures)
        {
            assert!((sample.time.s() - time).abs() < 1e-9, "{}", table.file);
            let told = sample.pressure.to(PressureUnit::Psi);
            assert!(
                (told - pressure).abs() < 1e-9,
                "{}: {told} {pressure}",
                table.file
            );
        }
        // Marked as what it is, with the digest that Python's hashlib gives.
        assert_eq!(held.header.sensor.address, "imported");
        assert_eq!(held.header.sensor.details["table 1 SHA-256"], table.sha256);
        let marked = |event: &Event| {
            matches!(event, Event::Note { text }
                if text.contains(&table.sha256) && text.contains("imported"))
        };
        assert!(held.events.iter().any(marked));
    }
}

fn import(folder: &Path, table: &str, more: &[&str]) -> std::process::Output {
    put(folder, "table.csv", table.as_bytes());
    let arguments = [
        "import",
        "table.csv",
        "--time",
        "t",
        "--pressure",
        "p",
        "--unit",
        "kPa",
    ];
    run_in(folder, &[&arguments, more].concat())
}

/// Rows every 10 ms.
fn rows(from: usize, to: usize) -> String {
    let row = |i: usize| format!("{:.2},{}.5\n", i as f64 * 0.01, i);
    (from..to).map(row).collect()
}

#[test]
fn gaps_and_rows_that_cannot_be_used_are_told_by_line() {
    let folder = tempdir().unwrap();
    let table = format!(
        "t,p\n{}{}0.25,n/a\n{}0.30,1.0\n0.11,1.0\n{}",
        rows(0, 20),
        "0.19,7.0\n",
        rows(26, 31),
        rows(40, 50)
    );
    let made = import(folder.path(), &table, &[]);
    assert_eq!(code(&made), 3, "{}", complaint(&made));
    let told = complaint(&made);
    for line in [
        "line 22: the time 0.19 once more",
        "line 23: \"n/a\" in p is no number",
        "line 24: nothing for 0.070 s",
        "line 29: the time 0.30 once more",
        "line 30: the time 0.11 goes back",
        "line 31: nothing for 0.100 s",
    ] {
        assert!(told.contains(line), "{line}: {told}");
    }
    let held = held(&folder.path().join("table.jsonl"));
    assert_eq!((held.samples.len(), held.lost), (35, 6 + 9));
    let gaps: Vec<f64> = held
        .samples
        .iter()
        .filter(|s| s.gap_before)
        .map(|s| s.time.s())
        .collect();
    assert_eq!(gaps.len(), 2, "{gaps:?}");
}

#[test]
fn a_table_that_cannot_be_read_is_refused_with_a_remedy() {
    let folder = tempdir().unwrap();
    let good = format!("t,p\n{}", rows(0, 20));
    for (table, more, says) in [
        (
            good.replace("t,p", "time,pressure"),
            &[][..],
            "no row has all the columns \"t\", \"p\"",
        ),
        (
            "t;p\n".to_owned() + &"0,01;1.013,25\n".repeat(20),
            &[],
            "a comma and some a point",
        ),
        (
            good.clone() + &"0.19,1.0\n".repeat(30),
            &[],
            "repeat the time",
        ),
        ("t,p\n0.1,5\n".to_owned(), &[], "1 rows of p can be used"),
        (
            good.clone(),
            &["--cylinders", "1,2"],
            "1 columns of pressures and 2 names",
        ),
        (
            good.clone(),
            &["--decimal", "comma"],
            "rows of p can be used",
        ),
        (
            good.clone(),
            &["--separator", "tab"],
            "no row has all the columns",
        ),
    ] {
        let made = import(folder.path(), &table, more);
        assert_ne!(code(&made), 0, "{says}");
        assert!(
            complaint(&made).contains(says),
            "{says}: {}",
            complaint(&made)
        );
        assert_complete(&made, "");
        assert!(!folder.path().join("table.jsonl").exists());
    }
    put(folder.path(), "table.csv", b"\xFF\xFEt\0,\0p\0");
    let wide = run_in(
        folder.path(),
        &[
            "import",
            "table.csv",
            "--time",
            "t",
            "--pressure",
            "p",
            "--unit",
            "kPa",
        ],
    );
    assert!(complaint(&wide).contains("UTF-16"), "{}", complaint(&wide));
    let made = import(folder.path(), &good, &[]);
    assert_eq!(code(&made), 0, "{}", complaint(&made));
    let again = import(folder.path(), &good, &[]);
    assert_eq!(code(&again), 1);
    assert!(complaint(&again).contains("is left as it is"));
}

#[test]
fn times_of_day_and_dates_are_times() {
    for (first, started) in [
        ("08:30:00.", None),
        ("2026-05-01 08:30:00.", None),
        ("2026-05-01T08:30:00.", None),
        ("2026-05-01T08:30:00.", Some("Z")),
    ] {
        let folder = tempdir().unwrap();
        let zone = started.unwrap_or_default();
        let row = |i| format!("{first}{i:02}{zone};{i}\n");
        let table = (0..20).map(row).collect::<Vec<_>>().concat();
        put(folder.path(), "day.csv", table.as_bytes());
        let arguments = [
            "import",
            "day.csv",
            "--time",
            "1",
            "--pressure",
            "2",
            "--unit",
            "bar",
        ];
        let made = run_in(folder.path(), &arguments);
        assert_eq!(code(&made), 0, "{}", complaint(&made));
        let held = held(&folder.path().join("day.jsonl"));
        assert_eq!(held.samples.len(), 20);
        assert!((held.samples[19].time.s() - 0.19).abs() < 1e-9);
        if started.is_some() {
            assert_eq!(held.header.started, "2026-05-01T08:30:00Z");
        }
    }
}

/// A visit, printed line by line, made into tables and imported, reads as it did: by file, and by
/// column.
#[test]
fn an_imported_visit_tells_the_same_story() {
    let folder = tempdir().unwrap();
    let recipe = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocol/workbench/recipe.toml");
    let arguments = [
        "record",
        "a.jsonl",
        "--virtual",
        recipe.to_str().unwrap(),
        "--speed",
        "0",
        "--lines",
    ];
    let recorded = run_in(folder.path(), &arguments);
    assert_eq!(code(&recorded), 0, "{}", complaint(&recorded));
    let mut runs: Vec<Vec<(f64, f64)>> = Vec::new();
    for line in printed(&recorded).lines() {
        let line: Value = serde_json::from_str(line).unwrap();
        if line["event"] == "run" {
            runs.push(Vec::new());
        }
        if let (Some("sample"), Some(run)) = (line["type"].as_str(), runs.last_mut()) {
            let number = |name: &str| line[name].as_f64().unwrap();
            run.push((number("time_s"), number("pressure_pa")));
        }
    }
    let psi = |pa: f64| format!("{:.4}", pa / 6_894.757_293_168_361).replace('.', ",");
    let row = |(time, pa): &(f64, f64)| format!("{:.4};{}\n", time, psi(*pa)).replace('.', ",");
    for (name, run) in [("one.csv", &runs[0]), ("two.csv", &runs[1])] {
        let table: String = run.iter().map(row).collect();
        put(folder.path(), name, format!("s;psi\n{table}").as_bytes());
    }
    let mut both = String::from("s;one;two\n");
    for at in 0..runs[0].len().max(runs[1].len()) {
        let cell = |run: &Vec<(f64, f64)>| run.get(at).map_or(String::new(), |(_, pa)| psi(*pa));
        let time = format!("{:.4}", at as f64 / 200.0).replace('.', ",");
        both += &[time, cell(&runs[0]), cell(&runs[1])].join(";");
        both += "\n";
    }
    put(folder.path(), "both.csv", both.as_bytes());
    let common = ["--time", "s", "--unit", "psi", "--absolute"];
    let by_file = [
        "import",
        "one.csv",
        "two.csv",
        "--pressure",
        "psi",
        "--out",
        "f.jsonl",
    ];
    let by_column = [
        "import",
        "both.csv",
        "--pressure",
        "one",
        "--pressure",
        "two",
        "--out",
        "c.jsonl",
    ];
    for arguments in [by_file.as_slice(), &by_column] {
        let made = run_in(folder.path(), &[arguments, &common].concat());
        assert_eq!(code(&made), 0, "{}", complaint(&made));
    }
    let readings = |name: &str| -> Vec<f64> {
        let replayed = printed(&run_in(folder.path(), &["replay", name, "--json"]));
        let findings: Value = serde_json::from_str(&replayed).unwrap();
        let runs = findings["runs"].as_array().unwrap().iter().take(2);
        runs.map(|run| run["result"]["reading"]["value_pa"].as_f64().unwrap())
            .collect()
    };
    let before = readings("a.jsonl");
    for name in ["f.jsonl", "c.jsonl"] {
        for (ours, theirs) in readings(name).iter().zip(&before) {
            // Times come from the packets' arrival no more, and numbers are rounded to 0.0001 psi.
            assert!(
                (ours / theirs - 1.0).abs() < 0.01,
                "{name}: {ours} {theirs}"
            );
        }
        let verified = run_in(folder.path(), &["inspect", name]);
        assert_eq!(code(&verified), 0, "{}", complaint(&verified));
        assert!(
            printed(&verified).contains("imported"),
            "{}",
            printed(&verified)
        );
    }
}
