//! `parquet`: strokes and samples of a recording as Parquet tables.

use super::analyse::{self, AnalysisArgs};
use super::{Exit, Failure, Outcome};
use crate::pipeline::{self, Findings};
use crate::protocol::{Decoder, ProtocolFile};
use crate::recording::{Event, Reader, Record};
use crate::report::columns::{ColumnsError, SampleRow, SampleTable, strokes};
use crate::units::Time;
use std::fs;
use std::io::Write;
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
    let findings = pipeline::analyse(input, args.analysis.options()?)
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
    let temporary = || NamedTempFile::new_in(&args.folder).map_err(failed);
    let (mut first, mut second) = (temporary()?, temporary()?);
    let unwritten =
        |error: ColumnsError| Failure::new(Exit::Failed, error).at(args.folder.display());
    strokes(&mut first, &findings).map_err(unwritten)?;
    samples(&args.recording, &findings, &mut second)?;
    for (file, place) in [first, second].into_iter().zip(&places) {
        file.as_file().sync_all().map_err(failed)?;
        file.persist(place).map_err(|error| failed(error.error))?;
        writeln!(anstream::stdout(), "{}", place.display())?;
    }
    Ok(Exit::Done)
}

/// Decodes the recording once more and writes every sample.
fn samples(path: &Path, findings: &Findings, out: &mut NamedTempFile) -> Result<(), Failure> {
    let bad = |error: &dyn std::fmt::Display| {
        Failure::new(Exit::BadInput, error.to_string()).at(path.display())
    };
    let unwritten = |error: ColumnsError| Failure::new(Exit::Failed, error).at(path.display());
    let mut reader = Reader::new(analyse::open(path)?).map_err(|error| bad(&error))?;
    let protocol = ProtocolFile::parse(&reader.header().protocol).map_err(|error| bad(&error))?;
    let mut decoder = Decoder::new(&protocol);
    let mut table = SampleTable::new(out).map_err(unwritten)?;
    let mut decoded = Vec::new();
    let mut write = |decoded: &mut Vec<_>| {
        decoded
            .drain(..)
            .try_for_each(|raw: crate::protocol::RawSample| {
                table.push(SampleRow {
                    run: run_at(findings, raw.time),
                    time: raw.time,
                    pressure: raw.pressure,
                    out_of_range: raw.out_of_range,
                    gap_before: raw.gap_before,
                })
            })
    };
    for line in reader.by_ref() {
        match line.map_err(|error| bad(&error))?.outcome {
            Ok(Record::Packet(packet)) => {
                let at = Time::from_us(packet.t_us);
                decoder.accept(&packet.from, at, &packet.hex, &mut decoded);
            }
            Ok(Record::Event(event)) if matches!(event.event, Event::LinkLost) => {
                decoder.link_lost(&mut decoded);
            }
            _ => {}
        }
        write(&mut decoded).map_err(unwritten)?;
    }
    decoder.flush(&mut decoded);
    write(&mut decoded).map_err(unwritten)?;
    table.finish().map_err(unwritten)
}

/// The run, counted from 1, in whose time a sample lies.
fn run_at(findings: &Findings, time: Time) -> Option<u32> {
    let runs = findings.runs.iter();
    let within = |run: &pipeline::Run| run.result.started <= time && time <= run.result.ended;
    runs.into_iter().position(within).map(|n| n as u32 + 1)
}
