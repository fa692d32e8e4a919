//! `import`: pressures that something else recorded, from a table into an ordinary recording.

mod cells;
mod found;
mod protocol;
mod rows;

use super::{Exit, Failure, Outcome, document, out};
use crate::engine::Condition;
use crate::recording::{
    Event, FORMAT, Header, Packet, SensorIdentity, TimedEvent, VERSION, WriteError, Writer,
};
use crate::units::PressureUnit;
use cells::TimeUnit;
use found::{Decimal, Separator, Table};
use rows::Column;
use sha2::{Digest, Sha256};
use std::io::Read;
use std::path::{Path, PathBuf};

/// Make a recording of a table of pressures that something else recorded
#[derive(Debug, clap::Args)]
#[command(
    after_help = "A COLUMN is called by its heading, or by its number from 1. Several --pressure columns, or \
several tables, are cylinders one after the other.

Examples:
  needlerest import table.csv --time Time --pressure Pressure --unit psi
  needlerest import engine.csv --time 1 --pressure 2 --pressure 3 --unit bar --condition warm
  needlerest import one.csv two.csv --time t_ms --time-unit ms --pressure p --unit kPa --absolute"
)]
pub(super) struct Args {
    /// The tables: text, columns separated by comma, semicolon, tab or bar
    #[arg(required = true, value_name = "TABLE")]
    tables: Vec<PathBuf>,
    /// The column that says when: a number, a time of day or a date with time
    #[arg(long, value_name = "COLUMN")]
    time: String,
    /// What the numbers in that column count
    #[arg(long, value_name = "UNIT", value_enum, default_value = "s")]
    time_unit: TimeUnit,
    /// The column of pressures; again for each cylinder that has one of its own
    #[arg(long, value_name = "COLUMN", required = true)]
    pressure: Vec<String>,
    /// The unit of the pressures
    #[arg(long, value_name = "UNIT")]
    unit: PressureUnit,
    /// The pressures are absolute: zero is vacuum
    #[arg(long)]
    absolute: bool,
    /// Names of the cylinders, in the order of columns and tables; without it, numbers
    #[arg(long, value_name = "NAME,…", value_delimiter = ',')]
    cylinders: Vec<String>,
    /// The engine's condition: cold (where it is not given), warm (both dry) or wet
    #[arg(long, value_name = "CONDITION")]
    condition: Option<Condition>,
    /// What separates the columns; without it, found
    #[arg(long, value_enum)]
    separator: Option<Separator>,
    /// The decimal mark; without it, found
    #[arg(long, value_enum)]
    decimal: Option<Decimal>,
    /// When the table began (UTC, such as 2026-05-01T09:00:00Z); without it, what the time column
    /// says, or when the table was last changed
    #[arg(long, value_name = "TIME")]
    started: Option<jiff::Timestamp>,
    /// The job card: what the engine is and should have
    #[arg(long, value_name = "FILE")]
    card: Option<PathBuf>,
    /// The recording to write; must not exist yet. Without it, beside the first table, with its
    /// name and .jsonl
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Longest table in bytes: three hours at 1 kHz.
const LONGEST: u64 = 256 * 1024 * 1024;
/// From the end of one cylinder to the beginning of the next, in microseconds.
const APART_US: u64 = 2_000_000;
/// Troubles that are told one by one; all are counted.
const TOLD: usize = 20;

/// A table as it was read.
struct Source {
    path: PathBuf,
    sha256: String,
    changed: Option<jiff::Timestamp>,
    columns: Vec<Column>,
}

pub(super) fn run(args: &Args) -> Outcome {
    let out = match &args.out {
        Some(path) => path.clone(),
        None => args
            .tables
            .first()
            .map_or_else(PathBuf::new, |table| table.with_extension("jsonl")),
    };
    if out.exists() {
        return Err(Failure::new(Exit::Failed, WriteError::Exists)
            .at(out.display())
            .remedy("choose another name with --out"));
    }
    let card = document::card(args.card.as_deref())?;
    let sources: Result<Vec<Source>, Failure> =
        args.tables.iter().map(|path| source(args, path)).collect();
    let sources = sources?;
    let columns: Vec<&Column> = sources.iter().flat_map(|source| &source.columns).collect();
    let names = names(args, columns.len())?;
    let header = Header {
        format: FORMAT.to_owned(),
        version: VERSION,
        tool: env!("CARGO_PKG_VERSION").to_owned(),
        started: started(args, &sources).to_string(),
        protocol: protocol::text(args.unit, args.absolute, &columns),
        sensor: identity(&sources),
        card,
    };
    let failed = |error: WriteError| Failure::new(Exit::Failed, error).at(out.display());
    let mut writer = Writer::create(&out, &header).map_err(failed)?;
    let result = write(&mut writer, args, &sources, names.as_deref()).map_err(failed);
    let rows = result?;
    let (_, seal) = writer.seal().map_err(failed)?;
    let troubles = tell(&sources)?;
    let (file, lines, digest) = (out.display(), seal.lines, seal.sha256);
    let mut said = out::stdout();
    said.line(format!(
        "Imported {rows} pressures of {} cylinder(s).",
        columns.len()
    ))?;
    said.line(format!("Sealed: {file} ({lines} lines, SHA-256 {digest})"))?;
    Ok(if troubles > 0 { Exit::Loss } else { Exit::Done })
}

fn source(args: &Args, path: &Path) -> Result<Source, Failure> {
    let failed = |error: std::io::Error| Failure::file(path, "read", &error);
    let file = std::fs::File::open(path).map_err(failed)?;
    let changed = file.metadata().and_then(|facts| facts.modified()).ok();
    let mut bytes = Vec::new();
    file.take(LONGEST + 1)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    let wrong = |what: String, remedy: &str| {
        Failure::new(Exit::BadInput, what)
            .at(path.display())
            .remedy(remedy)
    };
    if bytes.len() as u64 > LONGEST {
        return Err(wrong(
            format!("it is longer than {} MB", LONGEST / 1024 / 1024),
            "cut the table into several and import each",
        ));
    }
    let wanted = found::Asked {
        columns: std::iter::once(args.time.as_str())
            .chain(args.pressure.iter().map(String::as_str))
            .collect(),
        separator: args.separator,
        decimal: args.decimal,
    };
    let table = Table::read(&bytes, &wanted).map_err(|lack| wrong(lack.what, lack.remedy))?;
    let columns = (0..args.pressure.len())
        .map(|index| Column::read(&table, index + 1, args.time_unit))
        .collect::<Result<_, _>>()
        .map_err(|lack| wrong(lack.what, lack.remedy))?;
    Ok(Source {
        path: path.to_owned(),
        sha256: hex::encode(Sha256::digest(&bytes)),
        changed: changed.and_then(|time| jiff::Timestamp::try_from(time).ok()),
        columns,
    })
}

/// The cylinders' names; none where nothing needs a name.
fn names(args: &Args, columns: usize) -> Result<Option<Vec<String>>, Failure> {
    let given = &args.cylinders;
    if given.is_empty() {
        let needed = columns > 1 || args.condition.is_some();
        return Ok(needed.then(|| (1..=columns).map(|number| number.to_string()).collect()));
    }
    if given.len() != columns || given.iter().any(|name| name.trim().is_empty()) {
        return Err(Failure::new(
            Exit::Usage,
            format!(
                "there are {columns} columns of pressures and {} names",
                given.len()
            ),
        )
        .at("--cylinders")
        .remedy("give a name for each column and table, in their order"));
    }
    Ok(Some(given.clone()))
}

fn started(args: &Args, sources: &[Source]) -> jiff::Timestamp {
    let stated = || {
        let columns = sources.iter().flat_map(|source| &source.columns);
        columns.filter_map(|column| column.began).min()
    };
    let changed = || sources.iter().find_map(|source| source.changed);
    // When a file was changed is not known better than to the second.
    let second = |time: jiff::Timestamp| jiff::Timestamp::from_second(time.as_second()).ok();
    let known = args.started.or_else(stated);
    let known = known.or_else(|| changed().and_then(second));
    known.unwrap_or(jiff::Timestamp::UNIX_EPOCH)
}

/// What stands in the place of a sensor: where the numbers are from, so that anyone who has the
/// table can hold the recording against it.
fn identity(sources: &[Source]) -> SensorIdentity {
    let name = |source: &Source| {
        let name = source
            .path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy();
        name.chars().take(48).collect::<String>()
    };
    let mut details = std::collections::BTreeMap::new();
    for (index, source) in sources.iter().take(24).enumerate() {
        let number = index + 1;
        details.insert(format!("table {number}"), name(source));
        details.insert(format!("table {number} SHA-256"), source.sha256.clone());
    }
    SensorIdentity {
        name: format!(
            "imported: {}",
            sources.first().map(name).unwrap_or_default()
        ),
        address: "imported".to_owned(),
        details,
        correction: None,
    }
}

/// Writes all columns, one after the other; gives how many pressures.
fn write(
    writer: &mut Writer<crate::recording::FileSink>,
    args: &Args,
    sources: &[Source],
    names: Option<&[String]>,
) -> Result<u64, WriteError> {
    let event = |writer: &mut Writer<_>, t_us, event| writer.event(&TimedEvent { t_us, event });
    let (mut from_us, mut sequence, mut rows) = (0, 0_u32, 0);
    let mut names = names.into_iter().flatten();
    for source in sources {
        let file = source
            .path
            .file_name()
            .unwrap_or_default()
            .to_string_lossy();
        let text = format!("imported from {file}, SHA-256 {}", source.sha256);
        event(writer, from_us, Event::Note { text })?;
        for column in &source.columns {
            if let Some(cylinder) = names.next() {
                let run = Event::Run {
                    cylinder: cylinder.clone(),
                    condition: args.condition.unwrap_or(Condition::ColdDry),
                };
                event(writer, from_us, run)?;
            }
            let mut last_us = from_us;
            for row in &column.rows {
                sequence = sequence.wrapping_add(1 + row.missing_before);
                last_us = from_us + row.t_us;
                writer.packet(&Packet {
                    t_us: last_us,
                    from: crate::protocol::STREAM.to_owned(),
                    hex: protocol::line(sequence, &row.pressure),
                })?;
                rows += 1;
            }
            from_us = last_us + APART_US;
        }
    }
    Ok(rows)
}

/// Says what was left out and what is missing, by line; gives how much there is.
fn tell(sources: &[Source]) -> Result<usize, Failure> {
    let mut all = 0;
    for source in sources {
        // Columns of one table share its lines: what holds of the row is told once.
        let mut troubles: Vec<&(u64, String)> = source
            .columns
            .iter()
            .flat_map(|column| &column.troubles)
            .collect();
        troubles.sort();
        troubles.dedup();
        let (table, mut err) = (source.path.display(), out::stderr());
        for (line, what) in troubles.iter().take(TOLD) {
            err.line(format!("{table}, line {line}: {what}"))?;
        }
        let more = troubles.len().saturating_sub(TOLD);
        if more > 0 {
            err.line(format!("{table}: {more} more of these"))?;
        }
        all += troubles.len();
    }
    Ok(all)
}
