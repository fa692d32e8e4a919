//! `lab leak-down`: leak-down tests of cylinders whose leak is known.

mod bench;
mod sweep;
mod visits;

use std::error::Error;

/// Measure leak-down tests on leaks that are known, and print the page.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  lab leak-down --tests 1000 --visits 300 --seed 52")]
pub struct Args {
    /// How many tests of single cylinders.
    #[arg(long, default_value_t = 500)]
    tests: u64,
    /// How many visits, cranked and then tested with air.
    #[arg(long, default_value_t = 100)]
    visits: u64,
    /// Seed. Seed 51 is for tuning; a report uses another one.
    #[arg(long, default_value_t = 51)]
    seed: u64,
}

/// Runs the command.
pub fn run(args: &Args) -> Result<(), Box<dyn Error + Send + Sync>> {
    print!("{}", sweep::page(args.seed, args.tests));
    print!("{}", visits::page(args.seed, args.visits));
    Ok(())
}

/// A share in words.
fn share(are: usize, of: usize) -> String {
    if of == 0 {
        return "–".to_owned();
    }
    format!("{:.1} % of {of}", 100.0 * are as f64 / of as f64)
}
