//! `sensors`: sensors remembered under names of the user's choice, held against a gauge, corrected.

mod asked;
mod bench;
mod check;
mod dialogue;
mod names;
mod said;

use super::live::choice::Choice;
use super::live::known::{self, Known};
use super::live::runtime;
use super::terminal::width;
use super::{Exit, Failure, Outcome, out};
use crate::correction::Checked;
use crate::report::words;
use crate::transport::ble::{Scanner, hide_known_race};
use crate::units::PressureUnit;
use names::{own_name, unknown};
use std::io::Write;
use std::path::PathBuf;

/// List the sensors you gave a name; remember, check, correct or forget one
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest sensors
  needlerest sensors remember shed
  needlerest sensors remember shed --sensor 00:AA:01:01:00:01
  needlerest sensors check shed --reference 'tyre pump' --accuracy '0.15 bar'
  needlerest sensors correct shed on
  needlerest sensors forget shed")]
pub(super) struct Args {
    #[command(subcommand)]
    what: Option<What>,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// Remember a sensor that is in reach now
    Remember {
        /// Your name for it
        #[arg(value_parser = own_name)]
        name: String,
        #[command(flatten)]
        choice: Choice,
    },
    Check(Box<asked::Args>),
    /// Correct what a sensor tells by its last check from now on, or leave it as it is
    Correct {
        /// Your name for it
        name: String,
        /// on or off
        #[arg(value_enum)]
        how: Switch,
    },
    /// Forget a sensor
    Forget {
        /// Your name for it
        name: String,
    },
}

/// Whether readings are corrected.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
enum Switch {
    On,
    Off,
}

pub(super) fn run(args: &Args) -> Outcome {
    match &args.what {
        None => list(),
        Some(What::Remember { name, choice }) => remember(name, choice),
        Some(What::Check(args)) => check::run(args),
        Some(What::Correct { name, how }) => correct(name, *how),
        Some(What::Forget { name }) => forget(name),
    }
}

fn list() -> Outcome {
    let all = known::load(&known::path()?)?;
    let mut out = out::stdout();
    if all.is_empty() {
        writeln!(
            out,
            "No sensor is remembered. needlerest sensors remember NAME remembers one."
        )?;
    }
    for (name, known) in &all {
        let by = known.protocol.as_ref();
        let by = by.map_or_else(String::new, |path| {
            format!(", described by {}", path.display())
        });
        out.line(format!(
            "{name}: {} ({}){by}",
            known.address, known.advertised
        ))?;
        if let Some(checked) = &known.check {
            write!(out, "{}", checks(checked, known.corrected))?;
        }
    }
    Ok(Exit::Done)
}

fn remember(name: &str, choice: &Choice) -> Outcome {
    hide_known_race();
    let path = known::path()?;
    let mut all = known::load(&path)?;
    let found = runtime::run(async {
        let protocols = choice.protocols()?;
        let mut scanner = Scanner::open(choice.adapter.as_deref()).await?;
        let (found, _) = choice.find(&mut scanner, &protocols).await?;
        Ok(found)
    })?;
    let protocol = choice
        .protocol
        .first()
        .map(|path| absolute(path))
        .transpose()?;
    let label = found.label();
    let before = all
        .remove(name)
        .filter(|known| known.address == found.address);
    // The same sensor keeps its checks; another one of this name has none.
    let known = Known {
        address: found.address,
        advertised: found.name,
        protocol,
        ..before.unwrap_or_default()
    };
    all.insert(name.to_owned(), known);
    known::save(&path, &all)?;
    out::stdout().line(format!(
        "Remembered {label} as \"{name}\" in {}.",
        path.display()
    ))?;
    Ok(Exit::Done)
}

/// The protocol file is to be found from any folder.
fn absolute(path: &std::path::Path) -> Result<PathBuf, Failure> {
    std::path::absolute(path).map_err(|error| Failure::file(path, "find", &error))
}

fn forget(name: &str) -> Outcome {
    let path = known::path()?;
    let mut all = known::load(&path)?;
    if all.remove(name).is_none() {
        return Err(unknown(name, &path));
    }
    known::save(&path, &all)?;
    out::stdout().line(format!("Forgot \"{name}\"."))?;
    Ok(Exit::Done)
}

/// What is said of a sensor's checks, set in below its line.
fn checks(checked: &Checked, corrected: bool) -> String {
    // A check that makes no sense was refused when it was read.
    let Ok(by) = checked.correction() else {
        return String::new();
    };
    let unit = PressureUnit::Bar;
    let listed = said::listed(checked, &by, corrected, unit);
    let lines = std::iter::once(listed).chain(said::warnings(checked, unit));
    let options = textwrap::Options::new(width().min(100))
        .initial_indent("  ")
        .subsequent_indent("  ");
    lines
        .map(|line| textwrap::fill(&words::clean(&line), &options) + "\n")
        .collect()
}

fn correct(name: &str, how: Switch) -> Outcome {
    let path = known::path()?;
    let mut all = known::load(&path)?;
    let known = all.get_mut(name).ok_or_else(|| unknown(name, &path))?;
    let Some(checked) = &known.check else {
        return Err(
            Failure::new(Exit::Usage, format!("\"{name}\" has not been checked"))
                .at(path.display())
                .remedy("hold it against a gauge: needlerest sensors check NAME"),
        );
    };
    known.corrected = how == Switch::On;
    let said = match how {
        Switch::On => format!(
            "Readings of \"{name}\" are corrected from now on:\n{}Recordings made before stay as \
             they are.",
            checks(checked, true)
        ),
        Switch::Off => format!("Readings of \"{name}\" are left as the sensor tells them."),
    };
    known::save(&path, &all)?;
    writeln!(out::stdout(), "{said}")?;
    Ok(Exit::Done)
}
