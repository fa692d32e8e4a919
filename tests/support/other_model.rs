//! Twelve visits of a model of cranking that others wrote, with their truths: see
//! `fixtures/other-model/README.md`.

#![allow(dead_code, reason = "each room reads what it needs of a truth")]

use needlerest::pipeline::{Findings, Options, analyse};
use serde::Deserialize;
use std::path::Path;

/// What is true of a visit.
#[derive(Deserialize)]
pub struct Truth {
    pub file: String,
    /// What is wrong with each cylinder; `healthy` where nothing is.
    pub causes: Vec<String>,
    /// `starter` or `kicks`.
    pub who: String,
    /// `holding` or `following`.
    pub rig: String,
    pub runs: Vec<TrueRun>,
}

/// What is true of a run.
#[derive(Deserialize)]
pub struct TrueRun {
    pub cylinder: String,
    pub wet: bool,
    /// The highest level of a run four times as long.
    pub plateau_pa: f64,
    /// The highest level of this one.
    pub reached_pa: f64,
}

/// All visits, with what we make of them.
pub fn visits() -> Vec<(Truth, Findings)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/other-model");
    let text = std::fs::read(folder.join("truth.json")).expect("the truths");
    let truths: Vec<Truth> = serde_json::from_slice(&text).expect("JSON");
    assert_eq!(truths.len(), 12);
    let read = |truth: Truth| {
        let bytes = std::fs::read(folder.join(&truth.file)).expect("a recording");
        let found = analyse(bytes.as_slice(), Options::default()).expect("a sound recording");
        assert_eq!(
            found.findings.runs.len(),
            truth.runs.len(),
            "{}",
            truth.file
        );
        (truth, found.findings)
    };
    truths.into_iter().map(read).collect()
}
