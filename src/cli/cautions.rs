//! `cautions`: what to mind before cranking an engine with its plugs out.

use super::terminal::width;
use super::{Exit, Outcome, document, out};
use crate::engine::cautions::{CAUTIONS, Caution, FIRST, in_a_report};
use crate::engine::{EngineKind, JobCard};
use std::io::Write;
use std::path::PathBuf;

/// Print the safety cautions
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  needlerest cautions\n  needlerest cautions --card heron.toml")]
pub(super) struct Args {
    /// Only those that are for the engine of this job card
    #[arg(long, value_name = "FILE")]
    card: Option<PathBuf>,
}

pub(super) fn run(args: &Args) -> Outcome {
    let mut out = out::stdout();
    let columns = width();
    writeln!(out, "{}\n", textwrap::fill(FIRST, columns))?;
    for caution in wanted(args)? {
        let layout = textwrap::Options::new(columns)
            .initial_indent("- ")
            .subsequent_indent("  ");
        writeln!(out, "{}", textwrap::fill(&paragraph(caution), layout))?;
    }
    Ok(Exit::Done)
}

/// Those for the card's engine; without a card, every one.
fn wanted(args: &Args) -> Result<Vec<&'static Caution>, super::Failure> {
    let Some(text) = document::card(args.card.as_deref())? else {
        return Ok(CAUTIONS.iter().collect());
    };
    Ok(in_a_report(&EngineKind::of(
        JobCard::parse(&text).ok().as_ref(),
    )))
}

fn paragraph(caution: &Caution) -> String {
    let engines = caution.when.words();
    let engines = engines.map_or(String::new(), |engines| format!(" ({engines})"));
    format!(
        "{}{engines}. {} [{}]",
        caution.about, caution.text, caution.source
    )
}
