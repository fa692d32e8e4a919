//! The laboratory: measures needlerest on simulated engines whose truth is known. It is no part of
//! the product.

mod causes;
mod corpus;
mod draws;
mod leak_down;
mod parts;
mod stop;
mod tight;

use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// Measures needlerest on simulated engines whose truth is known.
#[derive(Debug, Parser)]
#[command(name = "lab", arg_required_else_help = true)]
struct Line {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Stop(stop::Args),
    Causes(causes::Args),
    Corpus(corpus::Args),
    LeakDown(leak_down::Args),
    Tight(tight::Args),
}

fn main() -> ExitCode {
    let Line { command } = Line::parse();
    let done = match command {
        Command::Stop(args) => stop::run(&args),
        Command::Causes(args) => causes::run(&args),
        Command::Corpus(args) => corpus::run(&args),
        Command::LeakDown(args) => leak_down::run(&args),
        Command::Tight(args) => tight::run(&args),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}
