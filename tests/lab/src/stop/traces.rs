//! Runs of another model, from a file: one JSON value a line.
//!
//! `{"index", "who", "rig", "odd", "wet", "about", "rate_hz", "resolution_pa", "ended_s",
//! "samples_pa", "strokes": [[time_s, shown_pa], …], "repeats": [[…], …],
//! "let_go": [{"samples_pa", "strokes"}, …]}`; samples begin at 0 s; strokes go on beyond the end
//! of the run, as the same person makes them.

use super::case::{Case, LetGo, True, Who};
use needlerest::signal::{Rig, Sample, Settings};
use needlerest::units::{Pressure, Time};
use rayon::prelude::*;
use serde::Deserialize;
use std::path::Path;

#[derive(Deserialize)]
struct Line {
    index: u64,
    who: Who,
    rig: Rig,
    odd: bool,
    wet: bool,
    about: String,
    rate_hz: f64,
    resolution_pa: f64,
    ended_s: f64,
    samples_pa: Vec<f64>,
    strokes: Vec<True>,
    repeats: Vec<Vec<True>>,
    let_go: Vec<Cut>,
}

#[derive(Deserialize)]
struct Cut {
    samples_pa: Vec<f64>,
    strokes: usize,
}

type Failed = Box<dyn std::error::Error + Send + Sync>;

pub fn read(path: &Path) -> Result<Vec<Case>, Failed> {
    let text = std::fs::read_to_string(path).map_err(|e| format!("{}: {e}", path.display()))?;
    let lines: Vec<&str> = text.lines().collect();
    lines
        .par_iter()
        .enumerate()
        .map(|(n, line)| {
            let line: Line = serde_json::from_str(line)
                .map_err(|e| format!("{}, line {}: {e}", path.display(), n + 1))?;
            Ok(case(line))
        })
        .collect()
}

fn case(line: Line) -> Case {
    let samples = |told: &[f64]| {
        let sample = |(n, pa): (usize, &f64)| Sample {
            time: Time::from_s(n as f64 / line.rate_hz),
            pressure: Pressure::from_pa(*pa),
            clipped: false,
            gap_before: false,
        };
        told.iter().enumerate().map(sample).collect::<Vec<_>>()
    };
    let cut = |cut: &Cut| LetGo {
        samples: samples(&cut.samples_pa),
        strokes: cut.strokes,
    };
    Case {
        index: line.index,
        who: line.who,
        rig: line.rig,
        odd: line.odd,
        wet: line.wet,
        settings: Settings {
            resolution: Pressure::from_pa(line.resolution_pa),
            sample_period: Some(Time::from_s(1.0 / line.rate_hz)),
            ..Settings::default()
        },
        samples: samples(&line.samples_pa),
        ended: line.ended_s,
        let_go: line.let_go.iter().map(cut).collect(),
        strokes: line.strokes,
        repeats: line.repeats,
        about: line.about,
    }
}
