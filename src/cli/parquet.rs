//! `parquet`: strokes and samples of a recording as Parquet tables.

use super::analyse::{self, AnalysisArgs};
use super::{Exit, Failure, Outcome, out};
use crate::pipeline::{self, Findings, Options, PlayError, Player};
use crate::report::columns::{ColumnsError, SampleRow, SampleTable, strokes};
use crate::report::{damage, temporary_in};
use crate::units::Time;
use std::fs;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Write strokes and samples of a recording as Parquet tables, units in the columns' metadata
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  needlerest parquet heron.jsonl heron-tables\n  duckdb -c \"select cylinder, max(peak_pa) from 'heron-tables/strokes.parquet' group by 1\""
)]
pub(super) struct Args {
    /// The recording
    recording: PathBuf,
    /// The folder to write strokes.parquet and samples.parquet into
    folder: PathBuf,
    /// Replace tables that are there already
    #[arg(long)]
    replace: bool,
    #[command(flatten)]
    analysis: AnalysisArgs,
}

pub(super) fn run(args: &Args) -> Outcome {
    let input = analyse::open(&args.recording)?;
    let options = args.analysis.options()?;
    let findings = pipeline::analyse(input, options.clone())
        .map_err(|error| analyse::failure(&args.recording, &error))?
        .findings;
    let places = ["strokes.parquet", "samples.parquet"].map(|name| args.folder.join(name));
    for place in &places {
        if !args.replace && place.symlink_metadata().is_ok() {
            return Err(Failure::new(
                Exit::Failed,
                "there is a file of this name already; it was left as it is",
            )
            .at(place.display())
            .remedy("choose another folder, or say --replace"));
        }
    }
    let failed = |error: std::io::Error| Failure::file(&args.folder, "write to", &error);
    fs::create_dir_all(&args.folder).map_err(failed)?;
    let temporary = || temporary_in(&args.folder).map_err(failed);
    let (mut first, mut second) = (temporary()?, temporary()?);
    let unwritten =
        |error: ColumnsError| Failure::new(Exit::Failed, error).at(args.folder.display());
    strokes(&mut first, &findings).map_err(unwritten)?;
    samples(&args.recording, options, &findings, &mut second)?;
    for said in damage(&findings.recording) {
        out::stdout().line(said)?;
    }
    for (file, place) in [first, second].into_iter().zip(&places) {
        file.as_file().sync_all().map_err(failed)?;
        file.persist(place).map_err(|error| failed(error.error))?;
        out::stdout().line(place.display())?;
    }
    Ok(analyse::exit(&findings))
}

/// Plays the recording once more and writes every sample.
fn samples(
    path: &Path,
    options: Options,
    findings: &Findings,
    out: &mut NamedTempFile,
) -> Result<(), Failure> {
    let failed = |error: PlayError| analyse::failure(path, &error);
    let unwritten = |error: ColumnsError| Failure::new(Exit::Failed, error).at(path.display());
    let mut player = Player::open(analyse::open(path)?, options).map_err(failed)?;
    let mut table = SampleTable::new(out).map_err(unwritten)?;
    loop {
        let more = player.step().map_err(failed)?.is_some();
        if !more {
            player.end();
        }
        for sample in player.pipeline().samples() {
            table
                .push(SampleRow {
                    run: run_at(findings, sample.time),
                    time: sample.time,
                    pressure: sample.pressure,
                    out_of_range: sample.out_of_range,
                    gap_before: sample.gap_before,
                })
                .map_err(unwritten)?;
        }
        if !more {
            return table.finish().map_err(unwritten);
        }
    }
}

/// The run, counted from 1, in whose time a sample lies.
fn run_at(findings: &Findings, time: Time) -> Option<u32> {
    let runs = findings.runs.iter();
    let within = |run: &pipeline::Run| run.result.started <= time && time <= run.result.ended;
    runs.into_iter().position(within).map(|n| n as u32 + 1)
}
