//! `scan`: which sensors are in reach.

use super::live::choice::Choice;
use super::live::runtime::{self, Ending};
use super::{Exit, Failure, Outcome, out};
use crate::protocol::ProtocolFile;
use crate::report::words;
use crate::transport::TransportError;
use crate::transport::ble::{Found, Scanner, hide_known_race};
use serde::Serialize;
use std::io::{IsTerminal, Write};
use std::time::Duration;
use tokio::time::Instant;

/// List the sensors in reach, live
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:
  needlerest scan
  needlerest scan --for 20 --all
  needlerest scan --protocol my-sensor.toml")]
pub(super) struct Args {
    /// For how many seconds; on a terminal, until Ctrl-C
    #[arg(long = "for", value_name = "SECONDS", value_parser = super::live::choice::seconds)]
    duration: Option<Duration>,
    /// Also devices that no protocol file describes
    #[arg(long)]
    all: bool,
    /// One JSON array instead of a table
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    choice: Choice,
}

/// Width of the column of names.
const NAME: usize = 24;

/// Without a terminal there is no live list, only its last state.
const NO_TERMINAL: Duration = Duration::from_secs(5);

pub(super) fn run(args: &Args) -> Outcome {
    hide_known_race();
    runtime::run(scan(args))
}

async fn scan(args: &Args) -> Outcome {
    let protocols = args.choice.protocols()?;
    let mut ending = Ending::listen()?;
    let mut scanner = Scanner::open(args.choice.adapter.as_deref()).await?;
    let live = std::io::stdout().is_terminal() && !args.json;
    let limit = match (args.duration, live) {
        (Some(limit), _) => limit,
        (None, true) => Duration::MAX,
        (None, false) => NO_TERMINAL,
    };
    let begun = Instant::now();
    let mut lines = 0;
    let mut heard = 0;
    let found = loop {
        let found = tokio::select! {
            found = scanner.look(&protocols) => Some(found?),
            () = ending.asked() => None,
        };
        let Some(found) = found else { break Vec::new() };
        heard = found.iter().filter(|one| one.heard).count();
        let shown: Vec<Found> = found
            .into_iter()
            .filter(|one| args.all || !one.protocols.is_empty())
            .collect();
        if live {
            lines = redraw(&shown, &protocols, lines, begun.elapsed())?;
        }
        if begun.elapsed() >= limit {
            break shown;
        }
    };
    scanner.stop().await;
    if live {
        return Ok(Exit::Done);
    }
    if args.json {
        let rows: Vec<Row> = found.iter().map(|one| Row::new(one, &protocols)).collect();
        let text = serde_json::to_string_pretty(&rows)
            .map_err(|error| Failure::new(Exit::Failed, error))?;
        out::stdout().json(&text)?;
    } else if found.is_empty() {
        return Err(TransportError::NothingFound {
            wanted: "sensor that a protocol file describes".to_owned(),
            heard,
            looked: limit,
        }
        .into());
    } else {
        write!(out::stdout(), "{}", table(&found, &protocols))?;
    }
    Ok(Exit::Done)
}

/// Draws the list over the one before; gives the number of lines drawn.
fn redraw(
    found: &[Found],
    protocols: &[ProtocolFile],
    before: usize,
    elapsed: Duration,
) -> Result<usize, Failure> {
    let mut out = out::stdout();
    if before > 0 {
        // Up to the first line, and clear from there.
        out.clear_lines(before)?;
    }
    let head = format!(
        "Looking for sensors, {} s; Ctrl-C ends.\n",
        elapsed.as_secs()
    );
    let text = if found.is_empty() {
        format!("{head}Nothing yet. Is the sensor on, near, and not held by a phone?\n")
    } else {
        format!("{head}{}", table(found, protocols))
    };
    write!(out, "{text}")?;
    out.flush()?;
    Ok(text.lines().count())
}

/// One device.
#[derive(Serialize)]
struct Row {
    name: String,
    address: String,
    heard: bool,
    rssi_dbm: Option<i16>,
    battery_percent: Option<u8>,
    protocols: Vec<String>,
}

impl Row {
    fn new(found: &Found, protocols: &[ProtocolFile]) -> Self {
        let names = found
            .protocols
            .iter()
            .filter_map(|&index| protocols.get(index));
        Self {
            name: found.name.clone(),
            address: found.address.clone(),
            heard: found.heard,
            rssi_dbm: found.rssi_dbm,
            battery_percent: found.battery_percent,
            protocols: names.map(|file| file.name().to_owned()).collect(),
        }
    }

    fn cells(self) -> [String; 5] {
        let name = if self.name.is_empty() {
            "(no name)".to_owned()
        } else {
            words::shorten(&self.name, NAME)
        };
        let signal = match (self.rssi_dbm, self.heard) {
            (Some(dbm), _) => format!("{dbm} dBm"),
            (None, true) => "unknown".to_owned(),
            (None, false) => "not now".to_owned(),
        };
        let battery = self
            .battery_percent
            .map_or("-".to_owned(), |percent| format!("{percent} %"));
        let protocol = match self.protocols.as_slice() {
            [] => "none".to_owned(),
            several => words::clean(&several.join(", ")),
        };
        [name, words::clean(&self.address), signal, battery, protocol]
    }
}

fn table(found: &[Found], protocols: &[ProtocolFile]) -> String {
    let head = ["NAME", "ADDRESS", "SIGNAL", "BATTERY", "PROTOCOL FILE"].map(str::to_owned);
    let rows = found.iter().map(|one| Row::new(one, protocols).cells());
    let lines: Vec<String> = std::iter::once(head)
        .chain(rows)
        .map(|cells| line(&cells))
        .collect();
    lines.join("\n") + "\n"
}

fn line([name, address, signal, battery, protocol]: &[String; 5]) -> String {
    format!("{name:NAME$}  {address:17}  {signal:>8}  {battery:>7}  {protocol}")
}
