//! How long the main job takes, and how much memory a long recording needs. Prints a table;
//! asserts nothing.
//!
//! `cargo bench --bench replay`

use needlerest::pipeline::{self, Options};
use needlerest::recording::{Event, Record, TimedEvent, Writer};
use needlerest::report::{self, Units};
use std::error::Error;
use std::fs;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const VISITS: [&str; 4] = ["heron", "wren", "finch", "otter"];

fn main() -> Result<(), Box<dyn Error>> {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo");
    println!("| visit | size | replay and assess | report |\n| --- | --- | --- | --- |");
    let mut total = Duration::ZERO;
    for visit in VISITS {
        total += one_visit(&demo.join(format!("{visit}.jsonl")), visit)?;
    }
    println!(
        "\nAll four, best of five each: {:.0} ms",
        total.as_secs_f64() * 1e3
    );
    let long = long_recording(&demo.join("heron.jsonl"), 200)?;
    let (time, peak) = replayed_by_the_program(&long)?;
    let megabytes = fs::metadata(&long)?.len() as f64 / 1e6;
    println!(
        "A recording of {megabytes:.0} MB: {:.1} s, {peak:.0} MB at most",
        time.as_secs_f64()
    );
    fs::remove_file(long)?;
    Ok(())
}

/// Prints a visit's line of the table; gives its time from bytes to report.
fn one_visit(path: &Path, name: &str) -> Result<Duration, Box<dyn Error>> {
    let bytes = fs::read(path)?;
    let mut replay = Duration::MAX;
    let mut reporting = Duration::MAX;
    for _ in 0..5 {
        let begun = Instant::now();
        let analysis = pipeline::analyse(bytes.as_slice(), Options::default())?;
        replay = replay.min(begun.elapsed());
        let begun = Instant::now();
        let units = Units::of(&analysis.findings);
        report::outputs(&analysis.findings, &analysis.traces, units)?;
        reporting = reporting.min(begun.elapsed());
    }
    let ms = |time: Duration| time.as_secs_f64() * 1e3;
    let kilobytes = bytes.len() / 1000;
    println!(
        "| {name} | {kilobytes} kB | {:.1} ms | {:.1} ms |",
        ms(replay),
        ms(reporting)
    );
    Ok(replay + reporting)
}

/// A visit over and over in one recording.
fn long_recording(visit: &Path, times: u64) -> Result<PathBuf, Box<dyn Error>> {
    let reader = needlerest::recording::open(visit)?;
    let header = reader.header().clone();
    let lines: Vec<Record> = reader.filter_map(|line| line.ok()?.outcome.ok()).collect();
    let mut writer = Writer::begin(Vec::new(), &header)?;
    let length = lines.iter().filter_map(time_of).max().unwrap_or(0) + 1_000_000;
    for n in 0..times {
        let again = Event::Resumed {
            at: header.started.clone(),
        };
        writer.event(&TimedEvent {
            t_us: n * length,
            event: again,
        })?;
        for line in &lines {
            match line {
                Record::Packet(packet) => {
                    let mut packet = packet.clone();
                    packet.t_us += n * length;
                    writer.packet(&packet)?;
                }
                Record::Event(event) => {
                    let mut event = event.clone();
                    event.t_us += n * length;
                    writer.event(&event)?;
                }
                Record::Header(_) | Record::Seal(_) => {}
            }
        }
    }
    let path = std::env::temp_dir().join(format!("needlerest-bench-{}.jsonl", std::process::id()));
    fs::File::create(&path)?.write_all(&writer.seal()?.0)?;
    Ok(path)
}

fn time_of(record: &Record) -> Option<u64> {
    match record {
        Record::Packet(packet) => Some(packet.t_us),
        Record::Event(event) => Some(event.t_us),
        Record::Header(_) | Record::Seal(_) => None,
    }
}

/// Time and peak resident memory (MB) of the program replaying a recording. Linux tells the
/// memory; elsewhere it is not a number.
fn replayed_by_the_program(path: &Path) -> Result<(Duration, f64), Box<dyn Error>> {
    let begun = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_needlerest"))
        .arg("replay")
        .arg(path)
        .arg("--json")
        .stdout(Stdio::null())
        .spawn()?;
    let mut peak = f64::NAN;
    while child.try_wait()?.is_none() {
        peak = peak.max(resident_mb(child.id()).unwrap_or(f64::NAN));
        std::thread::sleep(Duration::from_millis(5));
    }
    Ok((begun.elapsed(), peak))
}

fn resident_mb(process: u32) -> Option<f64> {
    let status = fs::File::open(format!("/proc/{process}/status")).ok()?;
    let line = BufReader::new(status).lines().map_while(Result::ok);
    let peak = line.into_iter().find(|line| line.starts_with("VmHWM:"))?;
    let kilobytes: f64 = peak.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1e3)
}
