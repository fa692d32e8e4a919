//! `lab stop`: does STOP come when the needle stops? On simulated runs whose truth is known.

mod case;
mod eye;
mod own;
mod population;
mod score;
mod table;
mod traces;
mod truth;

use case::Case;
use indicatif::ProgressBar;
use rayon::prelude::*;
use score::Score;
use std::path::PathBuf;

/// Measure the stop decision beside a plain eye, and print the table.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  lab stop --runs 2000 --seed 5
  lab stop --traces FILE")]
pub struct Args {
    /// How many runs of our own simulator.
    #[arg(long, default_value_t = 1000)]
    runs: u64,
    /// Seed of the runs. Seed 1 is for tuning; a report uses another one.
    #[arg(long, default_value_t = 2)]
    seed: u64,
    /// Odd sensors, testers and habits too, in a second table.
    #[arg(long)]
    odd: bool,
    /// Runs of another model instead, one JSON value a line (see `traces.rs`).
    #[arg(long, value_name = "FILE")]
    traces: Option<PathBuf>,
    /// Also list the runs whose line contains this.
    #[arg(long, value_name = "TEXT")]
    list: Option<String>,
    /// One run only, with its story.
    #[arg(long, value_name = "INDEX")]
    only: Option<u64>,
}

/// Whatever can go wrong here is told and ends the work.
pub type Outcome = Result<(), Box<dyn std::error::Error + Send + Sync>>;

/// Runs the command.
pub fn run(args: &Args) -> Outcome {
    if let (Some(index), None) = (args.only, &args.traces) {
        let case = own::case(args.seed, index, args.odd).ok_or("there is no such run")?;
        println!("{}", score::story(&case));
    }
    let scores = match &args.traces {
        Some(path) => traces::read(path)?
            .par_iter()
            .filter(|case| args.only.is_none_or(|only| only == case.index))
            .map(score::score)
            .collect(),
        None => simulated(args),
    };
    for (odd, title) in [(false, "Ordinary visits"), (true, "Odd ones")] {
        let these: Vec<&Score> = scores.iter().filter(|s| s.odd == odd).collect();
        if !these.is_empty() {
            println!("### {title}\n\n{}", table::table(&these));
        }
    }
    if let Some(text) = &args.list {
        let lines = scores.iter().map(Score::line);
        lines
            .filter(|line| line.contains(text))
            .for_each(|line| println!("{line}"));
    }
    Ok(())
}

fn simulated(args: &Args) -> Vec<Score> {
    let bar = ProgressBar::new(args.runs);
    let all: Vec<u64> = args
        .only
        .map_or_else(|| (0..args.runs).collect(), |one| vec![one]);
    let scores = all
        .into_par_iter()
        .filter_map(|index| {
            let case: Option<Case> = own::case(args.seed, index, args.odd);
            bar.inc(1);
            case.as_ref().map(score::score)
        })
        .collect();
    bar.finish_and_clear();
    scores
}
