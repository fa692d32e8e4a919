//! `lab causes`: verdict and causes on visits whose truth is known.

pub mod engines;
mod faults;
pub mod own;
pub mod population;
mod recordings;
mod score;
mod table;
pub mod visit;

use indicatif::ProgressBar;
use rayon::prelude::*;
use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};
use visit::Visit;

/// Measure verdict and causes beside a rule of thumb, and print the page.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  lab causes --visits 2000 --seed 32
  lab causes --visits 2000 --seed 32 --recordings FOLDER")]
pub struct Args {
    /// How many visits of our own simulator.
    #[arg(long, default_value_t = 400)]
    visits: u64,
    /// Seed of the visits. Seed 31 is for tuning; a report uses another one.
    #[arg(long, default_value_t = 32)]
    seed: u64,
    /// A folder of recordings by another model, with their truth (see `recordings.rs`), beside
    /// ours.
    #[arg(long, value_name = "FOLDER")]
    recordings: Option<PathBuf>,
    /// Keep our visits as they were read in a file, a JSON value a line.
    #[arg(long, value_name = "FILE")]
    keep: Option<PathBuf>,
    /// Judge what was kept instead of simulating anew.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["visits", "keep"])]
    kept: Option<PathBuf>,
    /// List every visit in which something is not as it should be.
    #[arg(long)]
    list: bool,
}

/// Whatever can go wrong here is told and ends the work.
pub type Outcome = Result<(), Box<dyn std::error::Error + Send + Sync>>;
type Visits = Result<Vec<Visit>, Box<dyn std::error::Error + Send + Sync>>;

/// Runs the command.
pub fn run(args: &Args) -> Outcome {
    let own = match &args.kept {
        Some(path) => read_kept(path)?,
        None => simulated(args.visits, args.seed),
    };
    if let Some(path) = &args.keep {
        keep(path, &own)?;
    }
    let other = match &args.recordings {
        Some(folder) => recordings::read(folder)?,
        None => Vec::new(),
    };
    let mut worlds = vec![("own simulator", own)];
    if !other.is_empty() {
        worlds.push(("other model", other));
    }
    print!("{}", table::page(&worlds));
    if args.list {
        for (world, visits) in &worlds {
            for (n, visit) in visits.iter().enumerate() {
                score::list(world, n, visit);
            }
        }
    }
    Ok(())
}

/// Visits of the population; those that cannot be made (an engine too heavy for whoever turns it)
/// are left out.
fn simulated(count: u64, seed: u64) -> Vec<Visit> {
    let bar = ProgressBar::new(count);
    let visits = (0..count)
        .into_par_iter()
        .filter_map(|index| {
            let visit = own::visit(seed, index).ok();
            bar.inc(1);
            visit
        })
        .collect();
    bar.finish_and_clear();
    visits
}

fn keep(path: &Path, visits: &[Visit]) -> Outcome {
    let mut file = std::io::BufWriter::new(std::fs::File::create(path)?);
    for visit in visits {
        serde_json::to_writer(&mut file, visit)?;
        file.write_all(b"\n")?;
    }
    Ok(file.flush()?)
}

fn read_kept(path: &Path) -> Visits {
    let file = std::io::BufReader::new(std::fs::File::open(path)?);
    file.lines()
        .map(|line| Ok(serde_json::from_str(&line?)?))
        .collect()
}
