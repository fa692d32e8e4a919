//! `demo`: four engines from recorded visits, analysed and reported as any recording is.

use super::analyse::{self, ReportArgs};
use super::{Exit, Outcome, out};
use crate::pipeline::{self, Options};
use crate::report::Consent;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Analyse four recorded visits that come with the program
#[derive(Debug, clap::Args)]
#[command(
    after_help = "The Marrow Creek pumping station, its engines and its numbers are \
invented; the recordings were made by the simulator.

Example:
  needlerest demo --folder my-demo"
)]
pub(super) struct Args {
    /// Where the reports go; older demo reports there are replaced
    #[arg(long, value_name = "FOLDER", default_value = "needlerest-demo")]
    folder: PathBuf,
}

/// A recorded visit that comes with the program.
struct Visit {
    name: &'static str,
    story: &'static str,
    recording: &'static [u8],
}

macro_rules! visit {
    ($name:literal, $story:literal) => {
        Visit {
            name: $name,
            story: $story,
            recording: include_bytes!(concat!("../../demo/", $name, ".jsonl")),
        }
    };
}

const VISITS: [Visit; 4] = [
    visit!(
        "heron",
        "Three-cylinder irrigation pump engine, electric start."
    ),
    visit!("wren", "Flat-twin lighting set, hand crank."),
    visit!("finch", "Single-cylinder delivery moped, kick start."),
    visit!("otter", "Two-stroke trash pump, pull cord."),
];

pub(super) fn run(args: &Args) -> Outcome {
    let mut out = out::stdout();
    let mut pages = Vec::new();
    for visit in VISITS {
        let analysis = pipeline::analyse(visit.recording, Options::default())
            .map_err(|error| analyse::failure(Path::new(visit.name), &error))?;
        let findings = &analysis.findings;
        let units = ReportArgs::default().units(findings.card.as_ref());
        writeln!(out, "{}\n", visit.story)?;
        analyse::print(&mut out, findings, units)?;
        writeln!(out)?;
        let folder = args.folder.join(visit.name);
        pages.push(analyse::write_report(
            &analysis,
            units,
            &folder,
            Consent::Replace,
        )?);
    }
    writeln!(out, "Invented engines, simulated recordings. The reports:")?;
    for page in pages {
        out.line(format!("  {}", page.display()))?;
    }
    Ok(Exit::Done)
}
