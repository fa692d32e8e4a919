//! The command line: one file a command; parsing, terminal, exit codes.
//!
//! Each command has an `Args` and a `run` that gives an [`Outcome`]: how it ended, or a
//! [`Failure`] that says what is wrong, where, and what to do. Only this room prints.

mod analyse;
mod card;
mod cautions;
mod compare;
mod demo;
mod document;
mod extras;
mod failure;
pub mod gauge;
mod guide;
mod import;
mod indicator;
mod inspect;
mod leak_down;
mod live;
mod news;
mod out;
mod overview;
#[cfg(feature = "parquet")]
mod parquet;
#[cfg(not(feature = "parquet"))]
#[path = "without.rs"]
mod parquet;
mod protocol;
mod record;
mod replay;
mod scan;
mod self_check;
mod sensors;
mod settings;
mod share;
mod sign;
mod signature;
mod simulate;
mod terminal;
mod verify;
mod visit;

pub use failure::{Exit, Failure, Outcome};

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};
use std::process::ExitCode;

/// Reads a Bluetooth LE pressure sensor while an engine is cranked, says when the reading has
/// settled, compares the cylinders and reports what the readings support.
#[derive(Debug, Parser)]
#[command(name = "needlerest", bin_name = "needlerest", version)]
#[command(arg_required_else_help = true, after_help = EXIT_CODES)]
struct Line {
    #[command(subcommand)]
    command: Command,
}

const EXIT_CODES: &str = "\
Exit codes: 0 done, 1 failed (file, disk, radio), 2 command line wrong, 3 done but data was \
damaged or lost, 4 input file not understood, 5 no reading in it, 6 does not match, \
7 agrees as far as it could be compared, 130 interrupted.

Cranking an engine with its plugs out can hurt: the engine's service manual, local rules and \
licensed practice come first. New here: needlerest guide first-hour";

/// One variant a command, in the order in which they are needed; its arguments and its work are in
/// the file of its name.
#[derive(Debug, Subcommand)]
enum Command {
    Guide(guide::Args),
    Demo(demo::Args),
    Practice(visit::practise::Args),
    Cautions(cautions::Args),
    Card(Box<card::Args>),
    Scan(scan::Args),
    SelfCheck(self_check::Args),
    Sensors(sensors::Args),
    Settings(settings::Args),
    Visit(visit::Args),
    Record(record::Args),
    LeakDown(leak_down::Args),
    Import(Box<import::Args>),
    Replay(replay::Args),
    Compare(compare::Args),
    Overview(overview::Args),
    Inspect(inspect::Args),
    Verify(verify::Args),
    Sign(sign::Args),
    Key(sign::KeyArgs),
    Parquet(parquet::Args),
    Protocol(protocol::Args),
    Simulate(simulate::Args),
    Completions(extras::CompletionArgs),
    Manpages(extras::ManpageArgs),
}

impl Command {
    fn run(self) -> Outcome {
        match self {
            Self::Card(args) => card::run(&args),
            Self::Cautions(args) => cautions::run(&args),
            Self::Completions(args) => extras::completions(&args, Line::command()),
            Self::Demo(args) => demo::run(&args),
            Self::Compare(args) => compare::run(&args),
            Self::Guide(args) => guide::run(&args),
            Self::Import(args) => import::run(&args),
            Self::Inspect(args) => inspect::run(&args),
            Self::Protocol(args) => protocol::run(&args),
            Self::Key(args) => sign::run_key(&args),
            Self::LeakDown(args) => leak_down::run(&args),
            Self::Manpages(args) => extras::manpages(&args, Line::command()),
            Self::Overview(args) => overview::run(&args),
            Self::Parquet(args) => parquet::run(&args),
            Self::Record(args) => record::run(&args),
            Self::Replay(args) => replay::run(&args),
            Self::Scan(args) => scan::run(&args),
            Self::SelfCheck(args) => self_check::run(&args),
            Self::Sensors(args) => sensors::run(&args),
            Self::Settings(args) => settings::run(&args),
            Self::Simulate(args) => simulate::run(&args),
            Self::Visit(args) => visit::run(&args),
            Self::Sign(args) => sign::run(&args),
            Self::Verify(args) => verify::run(&args),
            Self::Practice(args) => visit::practise::run(&args),
        }
    }
}

/// Parses the process's arguments, runs the command, prints what went wrong if something did.
pub fn main() -> ExitCode {
    match run() {
        Ok(exit) => exit.into(),
        Err(failure) => failure.report(),
    }
}

fn run() -> Outcome {
    // A damaged file of settings must not keep anyone from help, nor from commands without defaults.
    let (settings, damaged) = match settings::Settings::load() {
        Ok(settings) => (settings, None),
        Err(failure) => (settings::Settings::default(), Some(failure)),
    };
    let mut line = settings::apply(Line::command(), &settings);
    let matches = match line.try_get_matches_from_mut(std::env::args_os()) {
        Ok(matches) => matches,
        Err(error) => return told(&error),
    };
    let chosen = matches.subcommand_name().unwrap_or_default();
    let concerned = line.find_subcommand(chosen).is_some_and(settings::asks_for);
    if let Some(failure) = damaged.filter(|_| concerned) {
        return Err(failure);
    }
    match Line::from_arg_matches(&matches) {
        Ok(line) => line.command.run(),
        Err(error) => told(&error.format(&mut line)),
    }
}

/// Help, the version, or what is wrong with the command line.
fn told(error: &clap::Error) -> Outcome {
    if error.use_stderr() {
        // Nothing is left to tell the user with if standard error itself is gone.
        let _ = out::stderr().clap(error);
        return Ok(Exit::Usage);
    }
    out::stdout().clap(error)?;
    Ok(Exit::Done)
}
