//! `parquet` in a program that was built without it: says how to have it.

use super::{Exit, Failure, Outcome};

/// Write strokes and samples of a recording as Parquet tables (not in this build)
#[derive(Debug, clap::Args)]
#[command(hide = true)]
pub(super) struct Args {
    /// Whatever the command takes where it is built in
    #[arg(trailing_var_arg = true, allow_hyphen_values = true)]
    _words: Vec<String>,
}

pub(super) fn run(_: &Args) -> Outcome {
    Err(
        Failure::new(Exit::Usage, "this program was built without Parquet tables")
            .remedy("cargo build --release --features pdf,parquet"),
    )
}
