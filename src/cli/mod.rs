//! The command line: one file a command; parsing, terminal, exit codes.

mod analyse;
mod calibrate;
mod card;
mod cautions;
mod compare;
mod corpus;
mod demo;
mod failure;
pub mod gauge;
mod indicator;
mod inspect;
mod live;
mod news;
mod overview;
#[cfg(feature = "parquet")]
mod parquet;
mod protocol;
mod record;
mod replay;
mod scan;
mod self_check;
mod sensors;
mod sign;
mod simulate;
mod terminal;
mod verify;
mod visit;
mod yardstick;

pub use failure::{Exit, Failure};

use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// What every command gives: how it ended, or why it could not.
pub type Outcome = Result<Exit, Failure>;

/// Reads a Bluetooth LE pressure sensor while an engine is cranked, says when the reading has
/// settled, compares the cylinders and reports what the readings support.
#[derive(Debug, Parser)]
#[command(name = "needlerest", version, arg_required_else_help = true, after_help = EXIT_CODES)]
struct Line {
    #[command(subcommand)]
    command: Command,
}

const EXIT_CODES: &str = "\
Exit codes: 0 done, 1 failed (file, disk, radio), 2 command line wrong, 3 done but data was \
damaged or lost, 4 input file not understood, 5 no reading in it, 6 does not match, \
130 interrupted.

Cranking an engine with its plugs out can hurt: the engine's service manual, local codes and \
licensed practice come first.";

/// One variant a command, in the order in which they are needed; its arguments and its work are in
/// the file of its name.
#[derive(Debug, Subcommand)]
enum Command {
    Demo(demo::Args),
    Practice(visit::practise::Args),
    Cautions(cautions::Args),
    Card(card::Args),
    Scan(scan::Args),
    SelfCheck(self_check::Args),
    Sensors(sensors::Args),
    Visit(visit::Args),
    Record(record::Args),
    Replay(replay::Args),
    Compare(compare::Args),
    Overview(overview::Args),
    Inspect(inspect::Args),
    Verify(verify::Args),
    Sign(sign::Args),
    Key(sign::KeyArgs),
    #[cfg(feature = "parquet")]
    Parquet(parquet::Args),
    Protocol(protocol::Args),
    Simulate(simulate::Args),
    Corpus(corpus::Args),
    Yardstick(yardstick::Args),
    Calibrate(calibrate::Args),
}

impl Command {
    fn run(self) -> Outcome {
        match self {
            Self::Calibrate(args) => calibrate::run(&args),
            Self::Card(args) => card::run(&args),
            Self::Cautions(_) => cautions::run(),
            Self::Demo(args) => demo::run(&args),
            Self::Corpus(args) => corpus::run(&args),
            Self::Compare(args) => compare::run(&args),
            Self::Inspect(args) => inspect::run(&args),
            Self::Protocol(args) => protocol::run(&args),
            Self::Key(args) => sign::run_key(&args),
            Self::Overview(args) => overview::run(&args),
            #[cfg(feature = "parquet")]
            Self::Parquet(args) => parquet::run(&args),
            Self::Record(args) => record::run(&args),
            Self::Replay(args) => replay::run(&args),
            Self::Scan(args) => scan::run(&args),
            Self::SelfCheck(args) => self_check::run(&args),
            Self::Sensors(args) => sensors::run(&args),
            Self::Simulate(args) => simulate::run(&args),
            Self::Visit(args) => visit::run(&args),
            Self::Yardstick(args) => yardstick::run(&args),
            Self::Sign(args) => sign::run(&args),
            Self::Verify(args) => verify::run(&args),
            Self::Practice(args) => visit::practise::run(&args),
        }
    }
}

/// Parses the process's arguments, runs the command, prints what went wrong if something did.
pub fn main() -> ExitCode {
    match Line::parse().command.run() {
        Ok(exit) => exit.into(),
        Err(failure) => failure.report(),
    }
}
