//! `compare`: two recordings of one engine beside each other.

use super::analyse::{self, AnalysisArgs};
use super::terminal::width;
use super::{Exit, Failure, Outcome, out};
use crate::assess::{Change, History, Trend, Visit, compare};
use crate::correction::Point;
use crate::pipeline::{self, Findings, Options, SensorFacts, inputs};
use crate::report::{damage, words};
use crate::units::{Pressure, PressureUnit};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Compare two visits to one engine: before and after a repair, this year and last
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest compare before.jsonl after.jsonl
  needlerest compare 2025.jsonl 2026.jsonl --unit bar --json")]
pub(super) struct Args {
    /// The earlier recording
    before: PathBuf,
    /// The later recording
    after: PathBuf,
    #[command(flatten)]
    analysis: AnalysisArgs,
    /// Show pressures in this unit: psi, bar, kPa, kgf/cm2, …
    #[arg(long)]
    unit: Option<PressureUnit>,
    /// Print the comparison as JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args) -> Outcome {
    let options = Options {
        unit: args.unit,
        ..args.analysis.options()?
    };
    let rules = options.rule_set();
    let before = findings(&args.before, &options)?;
    let after = findings(&args.after, &options)?;
    let labels = labels(args, &before, &after);
    let runs = (inputs(&before.runs), inputs(&after.runs));
    let history = compare(
        &Visit {
            label: &labels.0,
            card: before.card.as_ref(),
            runs: &runs.0,
        },
        &Visit {
            label: &labels.1,
            card: after.card.as_ref(),
            runs: &runs.1,
        },
        same_sensor(&before.sensor, &after.sensor),
        &rules,
    );
    let by_card = after.card.as_ref().map(|card| card.display);
    let units = by_card.unwrap_or_default().with(args.unit, None);
    let mut history = history.said(units);
    let corrections = unlike(&before.sensor, &after.sensor);
    history.cannot_tell.extend(corrections);
    let damage = [(&args.before, &before), (&args.after, &after)].map(|(path, findings)| {
        let said = damage(&findings.recording).into_iter();
        said.map(|said| format!("{}: {said}", path.display()))
            .collect::<Vec<_>>()
    });
    let damage = damage.concat();
    let mut out = out::stdout();
    if args.json {
        let json = serde_json::to_string_pretty(&history)
            .map_err(|error| Failure::new(Exit::Failed, error))?;
        out.json(&json)?;
    } else {
        for said in &damage {
            writeln!(out, "{}", words::fill(&words::clean(said), width()))?;
        }
        if !damage.is_empty() {
            writeln!(out)?;
        }
        write!(out, "{}", text(&history, units.unit))?;
    }
    Ok(if !damage.is_empty() {
        Exit::Loss
    } else if history.changes.is_empty() {
        Exit::NoReading
    } else {
        Exit::Done
    })
}

fn findings(path: &Path, options: &Options) -> Result<Findings, Failure> {
    let analysis = pipeline::analyse(analyse::open(path)?, options.clone())
        .map_err(|error| analyse::failure(path, &error))?;
    Ok(analysis.findings)
}

/// The same sensor, corrected alike or not at all: what it is off by is the same on both days.
fn same_sensor(before: &SensorFacts, after: &SensorFacts) -> bool {
    let one = before.name == after.name && before.protocol == after.protocol;
    one && points(before) == points(after)
}

/// The check by which a sensor is corrected.
fn points(sensor: &SensorFacts) -> Option<&[Point]> {
    sensor.correction.as_ref().map(|by| by.points.as_slice())
}

/// What is to be said where the two were not corrected alike.
fn unlike(before: &SensorFacts, after: &SensorFacts) -> Option<String> {
    let said = match (&before.correction, &after.correction) {
        (Some(_), None) => "Only the earlier readings were corrected by a check of the sensor",
        (None, Some(_)) => "Only the later readings were corrected by a check of the sensor",
        (Some(_), Some(_)) if points(before) != points(after) => {
            "The two were corrected by different checks of the sensor"
        }
        _ => return None,
    };
    Some(format!(
        "{said}: part of the change may be that and not the engine."
    ))
}

/// Dates where they differ, file names otherwise.
fn labels(args: &Args, before: &Findings, after: &Findings) -> (String, String) {
    let date = |findings: &Findings| {
        findings
            .recording
            .started
            .chars()
            .take(10)
            .collect::<String>()
    };
    let (a, b) = (date(before), date(after));
    if a != b && !a.is_empty() && !b.is_empty() {
        return (a, b);
    }
    let name = |path: &Path| {
        path.file_stem()
            .map_or_else(String::new, |stem| stem.to_string_lossy().into_owned())
    };
    (name(&args.before), name(&args.after))
}

fn text(history: &History, unit: PressureUnit) -> String {
    let mut lines = vec![words::clean(&history.verdict), String::new()];
    if !history.changes.is_empty() {
        lines.push(format!(
            "{:<10} {:<13} {:>10} {:>10} {:>17} {:>17}",
            "cylinder", "condition", "before", "after", "change", "like with like"
        ));
        lines.extend(history.changes.iter().map(|change| row(change, unit)));
        lines.push(format!(
            "\nPressures in {unit}; ± is two standard uncertainties."
        ));
    }
    if let (Some(before), Some(after)) = history.scores {
        lines.push(format!(
            "Score of the engine: {before:.0}, then {after:.0}."
        ));
    }
    if !history.cannot_tell.is_empty() {
        lines.push("\nNotes:".to_owned());
        lines.extend(
            history
                .cannot_tell
                .iter()
                .map(|said| format!("  {}", words::clean(said))),
        );
    }
    lines.join("\n") + "\n"
}

fn row(change: &Change, unit: PressureUnit) -> String {
    let with = |value: Pressure, expanded: Pressure| {
        format!("{} ± {}", value.digits(unit), expanded.digits(unit))
    };
    let condition = if change.condition_before == change.condition_after {
        change.condition_after.label().to_owned()
    } else {
        format!(
            "{} to {}",
            change.condition_before.label(),
            change.condition_after.label()
        )
    };
    let like = change
        .corrected_change
        .zip(change.corrected_change_expanded)
        .map_or_else(|| "–".to_owned(), |(value, expanded)| with(value, expanded));
    let trend = match change.trend {
        Trend::Risen => "risen",
        Trend::Fallen => "fallen",
        Trend::NotClear => "not clear",
    };
    format!(
        "{:<10} {condition:<13} {:>10} {:>10} {:>17} {like:>17}  {trend}",
        words::clean(&change.cylinder),
        change.before.digits(unit),
        change.after.digits(unit),
        with(change.change, change.change_expanded),
    )
}
