//! The end of a visit: what the recording says, from the recording itself; the report; and where
//! it is.

use super::Manner;
use crate::cli::terminal::width;
use crate::cli::{Exit, Failure, Outcome};
use crate::pipeline::{Options, analyse};
use crate::report::{self, Consent, Units};
use std::fs::File;
use std::io::{BufReader, IsTerminal, Write};
use std::path::{Path, PathBuf};

/// Prints the assessment and writes the report. It is made from the file, not from what was seen
/// live: whoever replays the file gets the same.
pub(super) fn report(recording: &Path, manner: &Manner, live: bool, exit: Exit) -> Outcome {
    let bad = |error: &dyn std::fmt::Display| {
        Failure::new(Exit::BadInput, error.to_string()).at(recording.display())
    };
    let file = File::open(recording).map_err(|error| Failure::file(recording, "read", &error))?;
    let analysis =
        analyse(BufReader::new(file), Options::default()).map_err(|error| bad(&error))?;
    let by_card = analysis
        .findings
        .card
        .as_ref()
        .map_or_else(Units::default, |card| card.display.into());
    let units = Units {
        main: manner.unit.unwrap_or(by_card.main),
        also: by_card.also,
    };
    let mut out = anstream::stdout().lock();
    let colour = std::io::stdout().is_terminal();
    write!(
        out,
        "{}",
        report::text(&analysis.findings, units, width(), colour)
    )?;
    if live {
        writeln!(out, "\nRecording: {}", recording.display())?;
    }
    let made = analysis
        .findings
        .runs
        .iter()
        .any(|run| run.result.reading.is_some());
    if exit == Exit::Interrupted && live {
        writeln!(
            out,
            "Stopped. Go on with: needlerest visit {} --resume",
            recording.display()
        )?;
        return Ok(exit);
    }
    if !made {
        return Ok(Exit::NoReading);
    }
    if !live && manner.report.is_none() {
        return Ok(exit);
    }
    let folder = manner.report.clone().unwrap_or_else(|| beside(recording));
    let outputs = report::outputs(&analysis.findings, &analysis.traces, units)
        .map_err(|error| Failure::new(Exit::Failed, format!("cannot make the report: {error}")))?;
    // A session that goes on makes its report again; anyone else's folder is left alone.
    report::write_folder(&folder, &outputs, Consent::Replace).map_err(|error| {
        let remedy = error.remedy();
        Failure::new(Exit::Failed, error).remedy(remedy)
    })?;
    writeln!(out, "Report: {}", folder.display())?;
    Ok(exit)
}

/// `heron.jsonl` → `heron-report`.
fn beside(recording: &Path) -> PathBuf {
    let stem = recording.file_stem().unwrap_or_default().to_string_lossy();
    recording.with_file_name(format!("{stem}-report"))
}
