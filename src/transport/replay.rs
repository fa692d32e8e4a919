//! A recording as a source: the same packets and events, as fast as it goes or in their own time.

use super::{Arrival, Notice, Origin, Pace, Paced, TransportError};
use crate::recording::{self, Line, Reader, Record};
use std::io::BufRead;
use std::path::Path;

/// Opens a recording as a source.
///
/// # Errors
/// When the file cannot be read as a recording.
pub fn replay(
    path: &Path,
    pace: Pace,
) -> Result<
    Paced<impl Iterator<Item = Result<Arrival, TransportError>> + Send + use<>>,
    TransportError,
> {
    let reader = recording::open(path).map_err(unreadable)?;
    Ok(arrivals_of(reader, pace))
}

/// An opened recording as a source. Damaged lines are told and left out.
pub fn arrivals_of<R: BufRead + Send>(
    reader: Reader<R>,
    pace: Pace,
) -> Paced<impl Iterator<Item = Result<Arrival, TransportError>> + Send> {
    let header = reader.header();
    let origin = Origin {
        protocol: header.protocol.clone(),
        sensor: header.sensor.clone(),
        card: header.card.clone(),
        started: Some(header.started.clone()),
    };
    let arrivals = reader.filter_map(|line| match line {
        Ok(line) => arrival(line).map(Ok),
        Err(error) => Some(Err(unreadable(error))),
    });
    Paced::new(origin, arrivals, pace)
}

fn arrival(line: Line) -> Option<Arrival> {
    match line.outcome {
        Ok(Record::Packet(packet)) => Some(Arrival::Packet(packet)),
        Ok(Record::Event(event)) => Some(Arrival::Event(event)),
        Ok(Record::Header(_) | Record::Seal(_)) => None,
        Err(damage) => {
            let which = match line.count {
                1 => format!("line {} of the recording is", line.number),
                more => format!("{more} lines of the recording from {} on are", line.number),
            };
            let text = format!("{which} left out: {damage}");
            Some(Arrival::Notice(Notice::Warning(text)))
        }
    }
}

fn unreadable(error: impl std::fmt::Display) -> TransportError {
    TransportError::Recording(error.to_string())
}
