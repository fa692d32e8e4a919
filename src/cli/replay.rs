//! `replay`: a recording through the whole analysis, to the terminal and to a report folder.

use super::analyse::{self, AnalysisArgs, ReportArgs};
use super::{Outcome, news, out};
use crate::pipeline::{PlayError, Player};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Analyse a recording and report
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest replay visit.jsonl
  needlerest replay visit.jsonl --report visit-report --unit bar
  needlerest replay visit.jsonl --speed 1      watch it as it happened
  needlerest replay visit.jsonl --json | jq .assessment.verdict")]
pub(super) struct Args {
    /// The recording
    recording: PathBuf,
    /// Times its own speed, telling what happens as it happens; as fast as it goes otherwise
    #[arg(long, value_name = "TIMES", value_parser = speed)]
    speed: Option<f64>,
    #[command(flatten)]
    analysis: AnalysisArgs,
    #[command(flatten)]
    report: ReportArgs,
}

/// Analyses a recording that was just made, as this command does by default.
pub(super) fn analysed(recording: &Path, report: Option<PathBuf>) -> Outcome {
    let mut shown = ReportArgs::default();
    shown.report = report;
    run(&Args {
        recording: recording.to_owned(),
        speed: None,
        analysis: AnalysisArgs::default(),
        report: shown,
    })
}

fn speed(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(times) if (0.01..=10_000.0).contains(&times) => Ok(times),
        _ => Err("a number from 0.01 to 10000".to_owned()),
    }
}

pub(super) fn run(args: &Args) -> Outcome {
    let options = args.report.shown(args.analysis.options()?);
    let input = analyse::open(&args.recording)?;
    let failed = |error: PlayError| analyse::failure(&args.recording, &error);
    let mut player = Player::open(input, options).map_err(failed)?;
    let unit = args.report.units(player.pipeline().card()).main;
    let protocol = player.pipeline().protocol().clone();
    let begun = Instant::now();
    while let Some(speed) = args.speed
        && let Some(step) = player.step().map_err(failed)?
    {
        let due = Duration::from_secs_f64(step.t_us as f64 / 1e6 / speed);
        if let Some(wait) = due.checked_sub(begun.elapsed()) {
            std::thread::sleep(wait);
        }
        if !args.report.json {
            let mut out = out::stdout();
            let lines = |news| news::lines(news, &protocol, unit);
            for line in step.news.iter().flat_map(lines) {
                out.line(format!("{:8.2} s  {line}", step.t_us as f64 / 1e6))?;
            }
        }
    }
    let analysis = player.finish().map_err(failed)?;
    analyse::deliver(&analysis, &args.report)
}
