//! `lab corpus`: many simulated visits with known truth.

use needlerest::simulate::{self, CorpusSummary, Origin, Recipe, SimulateError};
use rayon::prelude::*;
use std::fs;
use std::path::PathBuf;

type Failed = Box<dyn std::error::Error + Send + Sync>;

/// Visits that are made together; all of them are counted, so that how many there are does not
/// depend on the threads.
const BATCH: u64 = 32;
const PROTOCOL: &str = include_str!("../../../protocol/reference-sensor.toml");

/// Make many simulated runs with known truth, on all cores, and print a summary. The same seed
/// gives the same bytes, however many threads there are.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// How many runs, at least; whole visits are made.
    #[arg(long, default_value_t = 1000)]
    runs: u64,
    /// Seed of all that is random.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Make this recipe again and again, with other seeds, instead of drawing engines.
    #[arg(long, value_name = "RECIPE")]
    recipe: Option<PathBuf>,
    /// Folder to write recipes, recordings and truths into; it is made if it does not exist.
    #[arg(long, value_name = "FOLDER")]
    out: Option<PathBuf>,
}

pub fn run(args: &Args) -> Result<(), Failed> {
    let origin = match &args.recipe {
        Some(path) => Origin::Recipe(Box::new(Recipe::parse(&fs::read_to_string(path)?)?)),
        None => Origin::Drawn,
    };
    if let Some(folder) = &args.out {
        fs::create_dir_all(folder)?;
    }
    let mut summary = CorpusSummary::default();
    let mut first = 0;
    while summary.runs() < args.runs {
        let made: Vec<_> = (first..first + BATCH)
            .into_par_iter()
            .map(|index| make(&origin, args, index))
            .collect();
        for visit in made {
            match visit? {
                Some((kind, truths)) => summary.add(&kind, &truths),
                None => summary.add_stalled(),
            }
        }
        first += BATCH;
    }
    print!("{}", summary.table());
    Ok(())
}

type Made = Option<(String, Vec<simulate::RunTruth>)>;

/// One visit; none where the engine does not turn over.
fn make(origin: &Origin, args: &Args, index: u64) -> Result<Made, Failed> {
    let visit = simulate::visit(origin, args.seed, index);
    let Some(folder) = &args.out else {
        return Ok(turned(simulate::visit_truths(&visit))?.map(|truths| (visit.kind, truths)));
    };
    let Some(made) = turned(simulate::session(&visit.recipe, PROTOCOL, None))? else {
        return Ok(None);
    };
    let path = |kind: &str| folder.join(format!("{}-{index:06}.{kind}", args.seed));
    fs::write(path("recipe.toml"), toml::to_string(&visit.recipe)?)?;
    fs::write(path("jsonl"), &made.recording)?;
    fs::write(
        path("truth.json"),
        serde_json::to_string_pretty(&made.truth)?,
    )?;
    Ok(Some((visit.kind, made.truth.runs)))
}

fn turned<T>(made: Result<T, SimulateError>) -> Result<Option<T>, SimulateError> {
    match made {
        Ok(made) => Ok(Some(made)),
        Err(SimulateError::Stalls { .. }) => Ok(None),
        Err(error) => Err(error),
    }
}
