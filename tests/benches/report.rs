//! How long a report takes, and how fast a folder of recordings is screened. Asserts nothing.
//!
//! `cargo bench --bench report`: a session of four cylinders, each cold and wet. `-- FOLDER` keeps
//! its report there, for `tests/benches/peers/report.py` to draw the same plots from.
//! `cargo bench --bench report -- --screen`: a thousand such recordings by `overview`, with one
//! thread and with two.

use needlerest::pipeline::{self, Analysis, Options};
use needlerest::report::chart::{by_condition, by_cylinder, inline, png, sheet, svg};
use needlerest::report::{self, Units};
use needlerest::simulate::{Recipe, session};
use std::collections::BTreeMap;
use std::error::Error;
use std::fs;
use std::hint::black_box;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

const RECIPE: &str = include_str!("four.recipe.toml");
const CARD: &str = include_str!("four.card.toml");
const PROTOCOL: &str = include_str!("../../protocol/reference-sensor.toml");
/// Times that each output is made.
const ROUNDS: usize = 30;
/// Recordings in the folder, and how many of them differ.
const RECORDINGS: u64 = 1000;
const DIFFERENT: u64 = 8;

type Outcome<T> = Result<T, Box<dyn Error>>;

fn main() -> Outcome<()> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    if words.iter().any(|word| word == "--screen") {
        return screen();
    }
    let recording = recording(1)?;
    let analysis = pipeline::analyse(recording.as_slice(), Options::default())?;
    let times = one_session(&analysis)?;
    if let Some(folder) = words.iter().find(|word| !word.starts_with("--")) {
        keep(Path::new(folder), &analysis, &times)?;
    }
    Ok(())
}

fn recording(seed: u64) -> Outcome<Vec<u8>> {
    let mut recipe = Recipe::parse(RECIPE)?;
    recipe.seed = seed;
    Ok(session(&recipe, PROTOCOL, Some(CARD))?.recording)
}

/// Gives the medians in milliseconds.
fn one_session(analysis: &Analysis) -> Outcome<BTreeMap<&'static str, f64>> {
    let (findings, traces) = (&analysis.findings, &analysis.traces);
    let units = Units::of(findings);
    let drawn = sheet(findings, units);
    println!("| what | median | slowest of {ROUNDS} | bytes |\n| --- | --- | --- | --- |");
    let page = row("page", || Ok(report::page(findings, traces, units)?.len()))?;
    let vector = row("build-up.svg", || Ok(svg(&drawn)?.len()))?;
    let raster = row("build-up.png", || Ok(png(&drawn)?.len()))?;
    row("plots within the page", || {
        let plots = by_condition(findings, units, 480.0).into_iter();
        let plots = plots.chain(by_cylinder(findings, units, 480.0));
        Ok(plots.map(|scene| inline(&scene, "p").len()).sum())
    })?;
    row("all files", || {
        let files = report::outputs(findings, traces, units)?;
        Ok(files.iter().map(|file| file.bytes.len()).sum())
    })?;
    println!("\nPage, SVG and PNG: {:.1} ms", page + vector + raster);
    Ok(BTreeMap::from([
        ("page", page),
        ("build-up.svg", vector),
        ("build-up.png", raster),
    ]))
}

/// Prints a line of the table; gives the median in milliseconds.
fn row(what: &str, mut make: impl FnMut() -> Outcome<usize>) -> Outcome<f64> {
    let mut times = Vec::new();
    let mut bytes = 0;
    for _ in 0..ROUNDS {
        let begun = Instant::now();
        bytes = black_box(make()?);
        times.push(begun.elapsed());
    }
    times.sort();
    let ms = |n: usize| times[n].as_secs_f64() * 1e3;
    let (median, slowest) = (ms(ROUNDS / 2), ms(ROUNDS - 1));
    println!("| {what} | {median:.2} ms | {slowest:.2} ms | {bytes} |");
    Ok(median)
}

fn keep(folder: &Path, analysis: &Analysis, times: &BTreeMap<&str, f64>) -> Outcome<()> {
    let units = Units::of(&analysis.findings);
    fs::create_dir_all(folder)?;
    for file in report::outputs(&analysis.findings, &analysis.traces, units)? {
        fs::write(folder.join(file.name), file.bytes)?;
    }
    fs::write(folder.join("times-ms.json"), serde_json::to_vec(times)?)?;
    fs::write(
        folder.join("traces.json"),
        serde_json::to_vec(&analysis.traces)?,
    )?;
    Ok(())
}

fn screen() -> Outcome<()> {
    let folder = tempfile::tempdir()?;
    let different = (0..DIFFERENT)
        .map(recording)
        .collect::<Outcome<Vec<Vec<u8>>>>()?;
    let mut bytes = 0;
    for (n, recording) in (0..RECORDINGS).zip(different.iter().cycle()) {
        bytes += recording.len();
        fs::write(folder.path().join(format!("{n:04}.jsonl")), recording)?;
    }
    println!("{RECORDINGS} recordings, {:.0} MB", bytes as f64 / 1e6);
    println!("| threads | wall clock, best of 3 |\n| --- | --- |");
    let one = screened(folder.path(), 1)?;
    let two = screened(folder.path(), 2)?;
    println!("\nTwo threads are {:.2} times as fast as one.", one / two);
    Ok(())
}

/// Seconds that `overview` takes.
fn screened(folder: &Path, threads: usize) -> Outcome<f64> {
    let mut best = f64::INFINITY;
    for _ in 0..3 {
        let begun = Instant::now();
        let status = Command::new(env!("CARGO_BIN_EXE_needlerest"))
            .arg("overview")
            .arg(folder)
            .env("RAYON_NUM_THREADS", threads.to_string())
            .stdout(Stdio::null())
            .status()?;
        best = best.min(begun.elapsed().as_secs_f64());
        if !status.success() {
            return Err(format!("overview: {status}").into());
        }
    }
    println!("| {threads} | {best:.2} s |");
    Ok(best)
}
