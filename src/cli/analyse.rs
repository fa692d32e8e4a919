//! What the commands that analyse share: options, a recording from disk through the pipeline, and
//! the report at its end.

use super::out::Out;
use super::terminal::width;
use super::{Exit, Failure, Outcome, document, out};
use crate::assess::RuleSet;
use crate::engine::{Condition, JobCard};
use crate::pipeline::{Analysis, Findings, Given, Label, Options, PlayError};
use crate::recording::OpenError;
use crate::report::{self, Consent, Units};
use crate::signal::{Outcome as RunOutcome, Rig};
use crate::units::PressureUnit;
use std::fs::File;
use std::io::{BufReader, Write};
use std::path::{Path, PathBuf};

/// What may be set by hand for an analysis
#[derive(Clone, Debug, Default, clap::Args)]
pub(super) struct AnalysisArgs {
    /// How the sensor sits; found from the data otherwise
    #[arg(long, value_enum)]
    rig: Option<RigArg>,
    /// Job card to use instead of the one in the recording
    #[arg(long, value_name = "FILE")]
    card: Option<PathBuf>,
    /// Rule set to use instead of the one that ships
    #[arg(long, value_name = "FILE")]
    rules: Option<PathBuf>,
    /// Names for runs that the recording does not name, in order: 1,2,1:wet,2:wet
    #[arg(long, value_name = "NAMES", value_delimiter = ',', value_parser = label)]
    runs: Vec<Label>,
    /// By how much a needle that counts as at rest may still rise, in percent of the reading
    #[arg(long, value_name = "PERCENT", value_parser = tolerance)]
    tolerance: Option<f64>,
}

/// How the sensor sits.
#[derive(Clone, Copy, Debug, clap::ValueEnum)]
enum RigArg {
    /// Behind a check valve: climbs in steps, stays until bled
    Holding,
    /// No check valve: rises and falls with each stroke
    Following,
}

fn label(text: &str) -> Result<Label, String> {
    let (cylinder, condition) = match text.rsplit_once(':') {
        None => (text, Condition::ColdDry),
        Some((cylinder, word)) => (cylinder, word.parse()?),
    };
    if cylinder.is_empty() {
        return Err("a cylinder needs a name".to_owned());
    }
    Ok(Label {
        cylinder: cylinder.to_owned(),
        condition,
    })
}

fn tolerance(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(percent) if (0.1..=10.0).contains(&percent) => Ok(percent),
        _ => Err("a number of percent from 0.1 to 10".to_owned()),
    }
}

impl AnalysisArgs {
    /// Reads the files that are named and puts the options together.
    pub(super) fn options(&self) -> Result<Options, Failure> {
        Ok(Options {
            unit: None,
            also: None,
            rig: self.rig.map(|rig| match rig {
                RigArg::Holding => Rig::Holding,
                RigArg::Following => Rig::Following,
            }),
            tolerance_share: self.tolerance.map(|percent| percent / 100.0),
            labels: self.runs.clone(),
            card: self.card.as_deref().map(card).transpose()?,
            rules: self.rules.as_deref().map(rules).transpose()?,
            samples: false,
        })
    }
}

/// Opens a recording.
pub(super) fn open(path: &Path) -> Result<BufReader<File>, Failure> {
    let file = File::open(path).map_err(|error| {
        Failure::file(path, "read", &error).remedy("check the name and the rights of the file")
    })?;
    Ok(BufReader::with_capacity(1 << 16, file))
}

/// Why a recording could not be analysed.
pub(super) fn failure(path: &Path, error: &PlayError) -> Failure {
    let (exit, remedy) = match error {
        PlayError::Io(_) | PlayError::Open(OpenError::Io(_)) => {
            (Exit::Failed, "check the name and the rights of the file")
        }
        PlayError::Open(OpenError::Empty | OpenError::NotARecording) => (
            Exit::BadInput,
            "give the file that a recording was written to (*.jsonl)",
        ),
        PlayError::Open(OpenError::Newer { .. }) => {
            (Exit::BadInput, "use a newer version of this program")
        }
        PlayError::Open(OpenError::DamagedHeader { .. }) => (
            Exit::BadInput,
            "use a copy of the recording that is whole, if there is one",
        ),
        PlayError::Pipeline(_) => (
            Exit::BadInput,
            "give a sound one by hand where there is an option for it (--card), or use the \
             recording as it was first written",
        ),
    };
    Failure::new(exit, error).at(path.display()).remedy(remedy)
}

/// Reads a text file.
pub(super) fn text(path: &Path) -> Result<String, Failure> {
    document::text(path)
}

fn card(path: &Path) -> Result<Given<JobCard>, Failure> {
    Given::card(&text(path)?).map_err(|error| unusable(path, error))
}

fn rules(path: &Path) -> Result<Given<RuleSet>, Failure> {
    Given::rules(&text(path)?).map_err(|error| unusable(path, error))
}

fn unusable(path: &Path, error: impl std::fmt::Display) -> Failure {
    Failure::new(Exit::BadInput, error).at(path.display())
}

/// What to do with the findings
#[derive(Clone, Debug, Default, clap::Args)]
pub(super) struct ReportArgs {
    /// Write the report (page, plots, tables) into this folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) report: Option<PathBuf>,
    /// Replace an older report in that folder
    #[arg(long, requires = "report")]
    replace: bool,
    /// Show pressures in this unit: psi, bar, kPa, kgf/cm2, …
    #[arg(long)]
    unit: Option<PressureUnit>,
    /// Show readings in this unit as well
    #[arg(long, value_name = "UNIT")]
    also: Option<PressureUnit>,
    /// Print the findings as JSON instead of the table
    #[arg(long)]
    pub(super) json: bool,
    /// Keep every sample of each run too: in findings.json and samples.csv, or in what --json prints
    #[arg(long)]
    samples: bool,
}

impl ReportArgs {
    /// The options with the units that are asked for.
    pub(super) fn shown(&self, options: Options) -> Options {
        Options {
            unit: self.unit,
            also: self.also,
            samples: self.samples,
            ..options
        }
    }

    /// Whether what is asked for goes together.
    pub(super) fn check(&self) -> Result<(), Failure> {
        if self.samples && !self.json && self.report.is_none() {
            let why = "--samples says what is written, but not where to";
            return Err(Failure::new(Exit::Usage, why)
                .remedy("add --report FOLDER (samples.csv will be in it), or --json"));
        }
        Ok(())
    }

    /// The units to show: as asked for, else as the card says.
    pub(super) fn units(&self, card: Option<&JobCard>) -> Units {
        let by_card = card.map_or_else(Units::default, |card| card.display.into());
        by_card.with(self.unit, self.also)
    }
}

/// Prints the findings and writes the report, as asked for.
pub(super) fn deliver(analysis: &Analysis, args: &ReportArgs) -> Outcome {
    let findings = &analysis.findings;
    let units = args.units(findings.card.as_ref());
    let consent = if args.replace {
        Consent::Replace
    } else {
        Consent::Keep
    };
    // Before anything is printed: a reader of the text that has had enough must not cost the report.
    let folder = args.report.as_ref();
    let written = folder.map(|folder| write_report(analysis, units, folder, consent));
    let mut out = out::stdout();
    if args.json {
        let json = report::json(findings).map_err(|error| Failure::new(Exit::Failed, error))?;
        out.json(&json)?;
    } else {
        print(&mut out, findings, units)?;
    }
    if let Some(page) = written.transpose()?
        && !args.json
    {
        writeln!(out)?;
        out.line(format!("Report: {}", page.display()))?;
    }
    Ok(exit(findings))
}

/// Prints the report's text, the judgement in its colour.
pub(super) fn print(
    out: &mut Out<impl Write>,
    findings: &Findings,
    units: Units,
) -> std::io::Result<()> {
    let text = report::text(findings, units, width());
    let (badge, style) = report::badge(findings);
    match text.split_once(&format!("\n{badge}")) {
        Some((head, rest)) => {
            writeln!(out, "{head}")?;
            out.styled(style, &badge)?;
            write!(out, "{rest}")
        }
        None => write!(out, "{text}"),
    }
}

/// Writes the report's folder; gives the page's place.
pub(super) fn write_report(
    analysis: &Analysis,
    units: Units,
    folder: &Path,
    consent: Consent,
) -> Result<PathBuf, Failure> {
    let outputs = report::outputs(&analysis.findings, &analysis.traces, units)
        .map_err(|error| Failure::new(Exit::Failed, format!("cannot make the report: {error}")))?;
    report::write_folder(folder, &outputs, consent).map_err(|error| {
        let remedy = error.remedy();
        Failure::new(Exit::Failed, error).remedy(remedy)
    })?;
    Ok(folder.join(report::PAGE))
}

/// The exit code that the findings call for. Damage outweighs that there is no reading: what was
/// lost may have held it.
pub(super) fn exit(findings: &Findings) -> Exit {
    let read = |run: &crate::pipeline::Run| run.result.outcome != RunOutcome::NoReading;
    if !report::damage(&findings.recording).is_empty() {
        Exit::Loss
    } else if !findings.runs.iter().any(read) {
        Exit::NoReading
    } else {
        Exit::Done
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_name_cylinder_and_condition() {
        let wet = Label {
            cylinder: "left".to_owned(),
            condition: Condition::Wet,
        };
        assert_eq!(label("left:wet"), Ok(wet));
        assert_eq!(
            label("2").map(|label| label.condition),
            Ok(Condition::ColdDry)
        );
        assert!(label("2:damp").is_err() && label(":wet").is_err());
    }
}
