//! The end of a visit: what the recording says, from the recording itself; the report; and where
//! it is.

use super::Manner;
use crate::cli::{Exit, Failure, analyse, out};
use crate::pipeline::{self, Options};
use crate::report::{Consent, Units};
use std::io::Write;
use std::path::{Path, PathBuf};

/// What the visit came to.
pub(super) struct End {
    pub(super) exit: Exit,
    /// The report's folder, if there is one.
    pub(super) report: Option<PathBuf>,
}

/// Prints the assessment and writes the report. It is made from the file, not from what was seen
/// live: whoever replays the file gets the same. `command` is what goes on with the recording;
/// none for a replay, which writes a report only where one is asked for.
pub(super) fn report(
    recording: &Path,
    manner: &Manner,
    command: Option<&str>,
    exit: Exit,
) -> Result<End, Failure> {
    let without = |exit| Ok(End { exit, report: None });
    let options = Options {
        unit: manner.unit,
        ..Options::default()
    };
    let analysis = pipeline::analyse(analyse::open(recording)?, options)
        .map_err(|error| analyse::failure(recording, &error))?;
    let findings = &analysis.findings;
    let by_card = findings.card.as_ref();
    let by_card = by_card.map_or_else(Units::default, |card| card.display.into());
    let main = manner.unit.unwrap_or(by_card.main);
    let units = Units {
        main,
        also: by_card.also.filter(|also| *also != main),
    };
    let mut out = out::stdout();
    analyse::print(&mut out, findings, units)?;
    if let Some(command) = command {
        let recording = recording.display();
        writeln!(out)?;
        out.line(format!("Recording: {recording}"))?;
        if exit == Exit::Interrupted {
            out.line(format!(
                "Stopped. To resume: needlerest {command} {recording} --resume"
            ))?;
            return without(exit);
        }
    }
    // What went wrong on the way weighs more than what the recording says of itself.
    let exit = match exit {
        Exit::Done => analyse::exit(findings),
        other => other,
    };
    let made = |run: &pipeline::Run| run.result.reading.is_some();
    let asked = command.is_some() || manner.report.is_some();
    if !findings.runs.iter().any(made) || !asked {
        return without(exit);
    }
    let folder = manner.report.clone().unwrap_or_else(|| beside(recording));
    // A session that goes on makes its report again; anyone else's folder is left alone.
    let page = analyse::write_report(&analysis, units, &folder, Consent::Replace)?;
    out.line(format!("Report: {}", page.display()))?;
    Ok(End {
        exit,
        report: Some(folder),
    })
}

/// `heron.jsonl` → `heron-report`.
fn beside(recording: &Path) -> PathBuf {
    let stem = recording.file_stem().unwrap_or_default().to_string_lossy();
    recording.with_file_name(format!("{stem}-report"))
}
