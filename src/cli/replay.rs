//! `replay`: a recording through the whole analysis, to the terminal and to a report folder.

use super::analyse::{self, AnalysisArgs, ReportArgs};
use super::{Outcome, news, out};
use crate::engine::EngineKind;
use crate::pipeline::{PlayError, Player};
use crate::transport::Pace;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Analyse a recording and report
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest replay visit.jsonl
  needlerest replay visit.jsonl --report visit-report --unit bar
  needlerest replay visit.jsonl --speed 1      watch it as it happened
  needlerest replay visit.jsonl --report visit-report --samples    with samples.csv
  needlerest replay visit.jsonl --json | jq .assessment.verdict")]
pub(super) struct Args {
    /// The recording
    recording: PathBuf,
    /// Tells what happens as it happens, so many times as fast as it was; 0: as fast as it goes
    #[arg(long, value_name = "TIMES")]
    speed: Option<Pace>,
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

pub(super) fn run(args: &Args) -> Outcome {
    args.report.check()?;
    let options = args.report.shown(args.analysis.options()?);
    let input = analyse::open(&args.recording)?;
    let failed = |error: PlayError| analyse::failure(&args.recording, &error);
    let mut player = Player::open(input, options).map_err(failed)?;
    let unit = args.report.units(player.pipeline().card()).main;
    let kind = EngineKind::of(player.pipeline().card());
    let protocol = player.pipeline().protocol().clone();
    let begun = Instant::now();
    while let Some(pace) = args.speed
        && let Some(step) = player.step().map_err(failed)?
    {
        let due = pace.due(step.t_us);
        if let Some(wait) = due.and_then(|due| due.checked_sub(begun.elapsed())) {
            std::thread::sleep(wait);
        }
        if !args.report.json {
            let mut out = out::stdout();
            let lines = |news| news::lines(news, &protocol, unit, &kind);
            for line in step.news.iter().flat_map(lines) {
                out.line(format!("{:8.2} s  {line}", step.t_us as f64 / 1e6))?;
            }
        }
    }
    let analysis = player.finish().map_err(failed)?;
    analyse::deliver(&analysis, &args.report)
}
