//! `calibrate`: how often the assessment is right, on simulated visits whose truth is known.

mod engines;
mod faults;
mod fitting;
mod measure;
mod page;
mod population;
mod tally;
mod tight;

use super::terminal::progress;
use super::{Exit, Failure, Outcome};
use crate::cli::out;
use clap::ValueEnum;
use measure::Seen;
use rayon::prelude::*;
use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};

/// What is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Fit {
    /// The exponent of a tight cylinder
    Tight,
    /// The model of the causes
    Causes,
}

/// Measure how often the assessment is right, on simulated visits
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest calibrate --visits 400
  needlerest calibrate --visits 4000 --seed 20264 > tests/results/causes.md
  needlerest calibrate --fit tight --visits 3000 --seed 11 > src/engine/tight.toml
  needlerest calibrate --fit causes --visits 8000 --seed 12 > src/assess/causes/model.json")]
pub(super) struct Args {
    /// How many visits
    #[arg(long, value_name = "NUMBER", default_value_t = 400, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    visits: u64,
    /// Place of the first visit in the population, to simulate it in parts and join what they keep
    #[arg(long, value_name = "NUMBER", default_value_t = 0)]
    first: u64,
    /// Seed of the population; what is fitted on one seed is reported on another
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    seed: u64,
    /// Keep what was read in a file (a JSON value a line), to be judged again without simulating
    #[arg(long, value_name = "FILE")]
    keep: Option<PathBuf>,
    /// Judge what an earlier run kept; give the seed it was made with
    #[arg(long, value_name = "FILE", conflicts_with_all = ["visits", "keep"])]
    kept: Option<PathBuf>,
    /// Fit and print the coefficients instead of reporting
    #[arg(long, value_name = "WHAT")]
    fit: Option<Fit>,
}

pub(super) fn run(args: &Args) -> Outcome {
    let text = match args.fit {
        Some(Fit::Tight) => tight::fit(args.seed, args.visits, &command(args, args.visits))?,
        Some(Fit::Causes) => {
            let seen = seen(args)?;
            fitting::fit(&seen, &command(args, seen.len() as u64))?
        }
        None => {
            let seen = seen(args)?;
            page::page(&seen, args.seed, &command(args, seen.len() as u64))
        }
    };
    let mut out = out::stdout();
    out.write_all(text.as_bytes())
        .map_err(|error| Failure::file(&PathBuf::from("standard output"), "write", &error))?;
    Ok(Exit::Done)
}

/// The command that makes the same again, without what an earlier run kept.
fn command(args: &Args, visits: u64) -> String {
    let fit = match args.fit {
        Some(Fit::Tight) => " --fit tight",
        Some(Fit::Causes) => " --fit causes",
        None => "",
    };
    format!(
        "needlerest calibrate{fit} --visits {visits} --seed {}",
        args.seed
    )
}

/// Every visit of the population, simulated on all cores, in order. Visits that cannot be made
/// (an engine too heavy for who turns it) are counted and left out.
fn seen(args: &Args) -> Result<Vec<Result<Seen, String>>, Failure> {
    if let Some(path) = &args.kept {
        return kept(path);
    }
    let bar = progress(args.visits, "visits");
    let all: Vec<Result<Seen, String>> = (args.first..args.first.saturating_add(args.visits))
        .into_par_iter()
        .map(|index| {
            let visit = population::visit(args.seed, index);
            let seen = measure::see(&visit).map_err(|error| error.to_string());
            bar.inc(1);
            seen
        })
        .collect();
    bar.finish_and_clear();
    if let Some(path) = &args.keep {
        keep(path, &all)?;
    }
    Ok(all)
}

fn keep(path: &Path, all: &[Result<Seen, String>]) -> Result<(), Failure> {
    let failed = |error: std::io::Error| Failure::file(path, "write", &error);
    let mut file = std::io::BufWriter::new(std::fs::File::create_new(path).map_err(failed)?);
    for seen in all {
        serde_json::to_writer(&mut file, seen).map_err(|error| failed(error.into()))?;
        file.write_all(b"\n").map_err(failed)?;
    }
    file.flush().map_err(failed)
}

fn kept(path: &Path) -> Result<Vec<Result<Seen, String>>, Failure> {
    let failed = |error: std::io::Error| Failure::file(path, "read", &error);
    let file = std::io::BufReader::new(std::fs::File::open(path).map_err(failed)?);
    file.lines()
        .map(|line| serde_json::from_str(&line.map_err(failed)?).map_err(|e| failed(e.into())))
        .collect()
}
