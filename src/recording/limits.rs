//! Bounds on a recording, so that no file, however hostile, costs unbounded memory.

use super::format::{Event, Record};
use crate::correction::MOST_POINTS;
use crate::leakdown::Place;
use crate::protocol;

/// Longest line in bytes, its end included.
pub const LINE: usize = 1024 * 1024;
/// Longest protocol file or job card in bytes.
pub const DOCUMENT: usize = protocol::limits::FILE;
/// Longest payload in bytes.
pub const PAYLOAD: usize = protocol::limits::PAYLOAD;
/// Longest name (of a cylinder, a characteristic, the sensor) in bytes.
pub const NAME: usize = 256;
/// Longest note, mark or reason in bytes.
pub const TEXT: usize = 16 * 1024;
/// Most details of a sensor.
pub const DETAILS: usize = 64;

/// Something is longer than a recording takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the {what} is {length} long; at most {most} can be recorded")]
pub struct TooLong {
    /// What is too long.
    pub what: &'static str,
    /// How long it is, in bytes (details: how many).
    pub length: usize,
    /// How long it may be.
    pub most: usize,
}

/// Whether everything in a record is within its bound.
pub(super) fn check(record: &Record) -> Result<(), TooLong> {
    match record {
        Record::Header(header) => {
            within("protocol file", header.protocol.len(), DOCUMENT)?;
            within(
                "job card",
                header.card.as_ref().map_or(0, String::len),
                DOCUMENT,
            )?;
            within("start time", header.started.len(), NAME)?;
            within("tool version", header.tool.len(), NAME)?;
            let sensor = &header.sensor;
            within("sensor name", sensor.name.len(), NAME)?;
            within("sensor address", sensor.address.len(), NAME)?;
            within("list of sensor details", sensor.details.len(), DETAILS)?;
            let checked = sensor.correction.iter();
            for check in checked.flat_map(|known| std::iter::once(&known.last).chain(&known.before))
            {
                within("date of a check", check.date.len(), NAME)?;
                within("reference of a check", check.reference.len(), 2 * NAME)?;
                within("list of a check's points", check.points.len(), MOST_POINTS)?;
            }
            sensor.details.iter().try_for_each(|(name, detail)| {
                within(
                    "sensor detail",
                    name.len().max(detail.len()),
                    TEXT / DETAILS,
                )
            })
        }
        Record::Packet(packet) => {
            within("payload", packet.hex.len(), PAYLOAD)?;
            within("characteristic name", packet.from.len(), NAME)
        }
        Record::Event(event) => match &event.event {
            Event::Run { cylinder, .. }
            | Event::Name { cylinder, .. }
            | Event::LeakDown { cylinder, .. } => within("cylinder name", cylinder.len(), NAME),
            Event::Decay { cylinder, .. } => {
                let length = cylinder.as_ref().map_or(0, String::len);
                within("cylinder name", length, NAME)
            }
            Event::Heard { places } => within("list of places", places.len(), Place::ALL.len()),
            Event::Void { reason: text, .. } | Event::Mark { text } | Event::Note { text } => {
                within("text", text.len(), TEXT)
            }
            Event::Resumed { at } => within("time", at.len(), NAME),
            Event::End | Event::Air { .. } | Event::LinkLost | Event::LinkBack | Event::Link(_) => {
                Ok(())
            }
        },
        Record::Seal(seal) => within("digest", seal.sha256.len(), NAME),
    }
}

fn within(what: &'static str, length: usize, most: usize) -> Result<(), TooLong> {
    if length > most {
        return Err(TooLong { what, length, most });
    }
    Ok(())
}
