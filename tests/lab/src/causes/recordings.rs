//! Visits of another model, as a folder of recordings (`NAME.jsonl`) with their truth beside
//! (`NAME.known.json`): `{"cause", "cylinders": [{"name", "cause", "takes"}, …]}`, causes and what
//! they take as in `visit.rs`.

use super::visit::{Cause, Known, Read, Visit};
use needlerest::pipeline::{self, Options};
use rayon::prelude::*;
use serde::Deserialize;
use std::path::{Path, PathBuf};

#[derive(Deserialize)]
struct Truth {
    cause: Cause,
    cylinders: Vec<Known>,
}

type Failed = Box<dyn std::error::Error + Send + Sync>;

/// Reads every recording that has its truth beside it, in the order of their names.
pub fn read(folder: &Path) -> Result<Vec<Visit>, Failed> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<Result<_, _>>()?;
    files.retain(|path| path.extension().is_some_and(|ext| ext == "jsonl"));
    files.retain(|path| path.with_extension("known.json").exists());
    files.sort();
    files
        .par_iter()
        .map(|path| one(path).map_err(|e| format!("{}: {e}", path.display()).into()))
        .collect()
}

fn one(path: &Path) -> Result<Visit, Failed> {
    let truth: Truth =
        serde_json::from_str(&std::fs::read_to_string(path.with_extension("known.json"))?)?;
    let file = std::io::BufReader::new(std::fs::File::open(path)?);
    let findings = pipeline::analyse(file, Options::default())?.findings;
    let card = findings.card.ok_or("the recording has no job card")?;
    let read = |run: pipeline::Run| Read {
        cylinder: run.cylinder,
        condition: run.condition,
        result: run.result,
    };
    Ok(Visit {
        card,
        reads: findings.runs.into_iter().map(read).collect(),
        cylinders: truth.cylinders,
        cause: truth.cause,
        card_wrong: false,
    })
}
