//! `needlerest yardstick`: how good is the stop decision, on simulated runs with known truth?

mod corpus;
mod draws;
mod score;
mod table;

use super::{Exit, Outcome, terminal};
use rayon::prelude::*;
use score::Score;
use std::io::Write;

/// Measure the stop decision on simulated runs whose truth is known, and print the table.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example: needlerest yardstick --runs 4000 --seed 4")]
pub struct Args {
    /// How many runs.
    #[arg(long, default_value_t = 4000)]
    runs: u64,
    /// Seed of the corpus. Seeds 1 and 11 were used for tuning; a report must use another one.
    #[arg(long, default_value_t = 2)]
    seed: u64,
    /// Also list the runs that went wrong, one a line.
    #[arg(long)]
    list: bool,
    /// Look at this run of the corpus only.
    #[arg(long)]
    only: Option<u64>,
}

pub(super) fn run(args: &Args) -> Outcome {
    let bar = terminal::progress(args.runs, "runs");
    let indices: Vec<u64> = args
        .only
        .map_or_else(|| (0..args.runs).collect(), |only| vec![only]);
    let results: Vec<Option<Score>> = indices
        .into_par_iter()
        .map(|index| {
            let case = corpus::case(args.seed, index);
            let score = score::score(&case, index).ok();
            bar.inc(1);
            score
        })
        .collect();
    bar.finish_and_clear();
    let stalled = results.iter().filter(|result| result.is_none()).count();
    let scores: Vec<Score> = results.into_iter().flatten().collect();
    let mut out = anstream::stdout();
    write!(out, "{}", table::table(&scores))?;
    writeln!(
        out,
        "\n{} runs, seed {}; {stalled} more never got over a compression and were left out.",
        scores.len(),
        args.seed
    )?;
    writeln!(out, "\n{}", table::summary(&scores))?;
    if args.list {
        for score in &scores {
            list(&mut out, score)?;
        }
    }
    Ok(Exit::Done)
}

fn list(out: &mut impl Write, score: &Score) -> std::io::Result<()> {
    let mut wrong = Vec::new();
    if score.false_call() {
        wrong.push("false-call");
    }
    if score.missed_call() {
        wrong.push("missed-call");
    }
    if score.rig_found != Some(score.rig) {
        wrong.push("rig");
    }
    if score.phantoms > 0 {
        wrong.push("phantom");
    }
    if score.overlooked > 0 {
        wrong.push("overlooked");
    }
    if score.covered() == Some(false) {
        wrong.push("uncovered");
    }
    if wrong.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "{} {:?} {} {} Hz {}: {} | plateau {:.0} kPa, {:?}, error {:.2} %, U {:.2} %, calls {:?}, oracle {:?}, made {}, hits {}, phantoms {}, overlooked {}, runs {}",
        score.index,
        score.rig,
        score.starter.label(),
        score.rate_hz,
        score.fault.label(),
        wrong.join(" "),
        score.plateau_pa / 1e3,
        score.outcome,
        score
            .error_pa
            .map_or(f64::NAN, |e| 100.0 * e / score.plateau_pa),
        score
            .expanded_pa
            .map_or(f64::NAN, |e| 100.0 * e / score.plateau_pa),
        score
            .calls
            .iter()
            .map(|(n, e)| format!("{n}: {:.2} %", 100.0 * e / score.plateau_pa))
            .collect::<Vec<_>>(),
        score.oracle,
        score.strokes_true,
        score.hits,
        score.phantoms,
        score.overlooked,
        score.runs,
    )
}
