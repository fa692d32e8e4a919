//! `corpus`: many simulated runs with known truth.

use super::simulate::{REFERENCE, failure, read_recipe, save};
use super::{Exit, Failure, Outcome, out, terminal};
use crate::simulate::{self, CorpusSummary, CorpusVisit, Origin, RunTruth, SimulateError};
use rayon::prelude::*;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Visits that are made together; all of them are counted, so that how many there are does not
/// depend on the threads.
const BATCH: u64 = 32;

/// Make many simulated runs with known truth, on all cores
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest corpus --runs 1000 --seed 1
  needlerest corpus --runs 100 --seed 7 --out /tmp/corpus
  needlerest corpus --runs 50 --seed 3 --recipe demo/finch.recipe.toml

Prints a summary. With --out, each visit is written as a recipe, a recording and its truth. The \
same seed gives the same bytes, however many threads there are. Engines, faults and sensors are \
drawn from the distribution that the documentation of `simulate` sets out.")]
pub(super) struct Args {
    /// How many runs, at least; whole visits are made
    #[arg(long, default_value_t = 1000, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    runs: u64,
    /// Seed of all that is random
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Make this recipe again and again, with other seeds, instead of drawing engines
    #[arg(long, value_name = "RECIPE")]
    recipe: Option<PathBuf>,
    /// Folder to write recipes, recordings and truths into; it is made if it does not exist
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,
    /// Threads; as many as there are cores otherwise
    #[arg(long, value_name = "COUNT")]
    threads: Option<usize>,
}

pub(super) fn run(args: &Args) -> Outcome {
    let origin = match &args.recipe {
        Some(path) => Origin::Recipe(Box::new(read_recipe(path)?)),
        None => Origin::Drawn,
    };
    if let Some(folder) = &args.out {
        fs::create_dir_all(folder).map_err(|error| Failure::file(folder, "make", &error))?;
    }
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(args.threads.unwrap_or(0))
        .build()
        .map_err(|error| Failure::new(Exit::Failed, error))?;
    let begun = Instant::now();
    let bar = terminal::progress(args.runs, "simulating");
    let mut summary = CorpusSummary::default();
    let mut first = 0;
    while summary.runs() < args.runs {
        let batch: Vec<_> = pool.install(|| {
            (first..first + BATCH)
                .into_par_iter()
                .map(|index| make(&origin, args, index))
                .collect()
        });
        for made in batch {
            match made? {
                Made::Runs(kind, truths) => summary.add(&kind, &truths),
                Made::Stalled => summary.add_stalled(),
            }
            bar.set_position(summary.runs().min(args.runs));
        }
        first += BATCH;
    }
    bar.finish_and_clear();
    let wall = begun.elapsed().as_secs_f64();
    let mut out = out::stdout();
    write!(out, "{}", summary.table())?;
    writeln!(
        out,
        "{wall:.1} s on the clock, {:.0} times real time",
        summary.seconds() / wall
    )?;
    Ok(Exit::Done)
}

enum Made {
    Runs(String, Vec<RunTruth>),
    Stalled,
}

fn make(origin: &Origin, args: &Args, index: u64) -> Result<Made, Failure> {
    let visit = simulate::visit(origin, args.seed, index);
    let truths = match &args.out {
        Some(folder) => written(&visit, args, folder, index),
        None => simulate::visit_truths(&visit).map_err(Trouble::Simulation),
    };
    match truths {
        Ok(truths) => Ok(Made::Runs(visit.kind, truths)),
        Err(Trouble::Simulation(SimulateError::Stalls { .. })) => Ok(Made::Stalled),
        Err(Trouble::Simulation(error)) => {
            let place = format!("visit {index} of seed {}", args.seed);
            Err(failure(Path::new(&place), &error))
        }
        Err(Trouble::Other(failure)) => Err(failure),
    }
}

enum Trouble {
    Simulation(SimulateError),
    Other(Failure),
}

impl From<Failure> for Trouble {
    fn from(failure: Failure) -> Self {
        Self::Other(failure)
    }
}

/// Makes a visit with packets and writes it.
fn written(
    visit: &CorpusVisit,
    args: &Args,
    folder: &Path,
    index: u64,
) -> Result<Vec<RunTruth>, Trouble> {
    let made = simulate::session(&visit.recipe, REFERENCE, None).map_err(Trouble::Simulation)?;
    let odd = |error: String| Failure::new(Exit::Failed, error);
    let recipe = toml::to_string(&visit.recipe).map_err(|error| odd(error.to_string()))?;
    let truth =
        serde_json::to_string_pretty(&made.truth).map_err(|error| odd(error.to_string()))?;
    let path = |kind: &str| folder.join(format!("{}-{index:06}.{kind}", args.seed));
    save(&path("recipe.toml"), recipe.as_bytes(), false)?;
    save(&path("jsonl"), &made.recording, false)?;
    save(&path("truth.json"), truth.as_bytes(), false)?;
    Ok(made.truth.runs)
}
