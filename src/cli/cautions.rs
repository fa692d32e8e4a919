//! `cautions`: what to mind before cranking an engine with its plugs out.

use super::terminal::width;
use super::{Exit, Outcome};
use crate::session::cautions::{CAUTIONS, FIRST};
use std::io::Write;

/// Print the safety cautions
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  needlerest cautions")]
pub(super) struct Args {}

pub(super) fn run() -> Outcome {
    let mut out = anstream::stdout().lock();
    let columns = width();
    writeln!(out, "{}\n", textwrap::fill(FIRST, columns))?;
    for caution in CAUTIONS {
        let paragraph = format!("{}. {}", caution.about, caution.text);
        let layout = textwrap::Options::new(columns)
            .initial_indent("- ")
            .subsequent_indent("  ");
        writeln!(out, "{}", textwrap::fill(&paragraph, layout))?;
    }
    Ok(Exit::Done)
}
