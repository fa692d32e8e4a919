//! What a recording holds, without analysing it.

use super::format::{Event, Header, Packet, Record, TimedEvent};
use super::found::SealState;
use super::line::Damage;
use super::reader::Reader;
use crate::engine::Condition;
use crate::protocol::{Decoder, PacketCounts, ProtocolFile};
use crate::units::Time;
use serde::Serialize;
use std::collections::BTreeMap;
use std::io::{self, BufRead};

/// Damaged lines that are listed one by one; all are counted.
const LISTED: usize = 100;

/// What a recording holds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// Its first line.
    pub header: Header,
    /// Name of its protocol file.
    pub protocol: Option<String>,
    /// Why its protocol file cannot be used, if so; then nothing is decoded.
    pub protocol_error: Option<String>,
    /// Lines in the file.
    pub lines: u64,
    /// Time of the last record.
    #[serde(rename = "duration_s")]
    pub duration: Time,
    /// Packets by characteristic.
    pub packets: BTreeMap<String, u64>,
    /// How the stream's packets decoded.
    pub decoded: Option<PacketCounts>,
    /// Runs that the recording names, in order.
    pub runs: Vec<NamedRun>,
    /// Events by kind.
    pub events: BTreeMap<&'static str, u64>,
    /// Notes and marks, in order.
    pub notes: Vec<String>,
    /// Lines that could not be used.
    pub damaged_lines: u64,
    /// Lines that are missing.
    pub missing_lines: u64,
    /// The first hundred of them.
    pub damage: Vec<DamagedLine>,
    /// Its last line breaks off: recording was cut short.
    pub torn_tail: bool,
    /// What became of the seal.
    #[serde(flatten)]
    pub seal: SealState,
}

/// A run that the recording names.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NamedRun {
    /// When it began.
    #[serde(rename = "at_s")]
    pub at: Time,
    /// The cylinder.
    pub cylinder: String,
    /// The engine's condition.
    pub condition: Condition,
}

/// A line that could not be used.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DamagedLine {
    /// Which line of the file.
    pub line: u64,
    /// So many lines on end.
    pub count: u64,
    /// Why not.
    #[serde(flatten)]
    pub damage: Damage,
}

impl Summary {
    /// Reads a recording to its end.
    ///
    /// # Errors
    /// When it cannot be read on; damage within it is no error.
    pub fn read<R: BufRead>(reader: &mut Reader<R>) -> io::Result<Self> {
        let protocol = ProtocolFile::parse(&reader.header().protocol);
        let mut decoder = protocol.as_ref().ok().map(Decoder::new);
        let mut summary = Self::empty(reader.header().clone());
        summary.protocol = protocol.as_ref().ok().map(|file| file.name().to_owned());
        summary.protocol_error = protocol.err().map(|error| error.to_string());
        let mut samples = Vec::new();
        for line in reader.by_ref() {
            let line = line?;
            match line.outcome {
                Ok(Record::Packet(packet)) => {
                    if let Some(decoder) = &mut decoder {
                        let at = Time::from_us(packet.t_us);
                        decoder.accept(&packet.from, at, &packet.hex, &mut samples);
                    }
                    summary.packet(&packet);
                }
                Ok(Record::Event(event)) => {
                    let lost = matches!(event.event, Event::LinkLost);
                    if let (true, Some(decoder)) = (lost, &mut decoder) {
                        decoder.link_lost(&mut samples);
                    }
                    summary.event(event);
                }
                Ok(Record::Header(_) | Record::Seal(_)) => {}
                Err(damage) => summary.damaged(line.number, line.count, damage),
            }
            samples.clear();
        }
        summary.decoded = decoder.map(|mut decoder| {
            decoder.flush(&mut samples);
            decoder.counts()
        });
        summary.lines = reader.lines();
        summary.seal = reader.seal().clone();
        Ok(summary)
    }

    /// Whether every line was sound (a missing seal aside).
    pub fn is_sound(&self) -> bool {
        self.damaged_lines == 0
            && self.missing_lines == 0
            && !matches!(self.seal, SealState::Broken { .. })
    }

    fn empty(header: Header) -> Self {
        Self {
            header,
            protocol: None,
            protocol_error: None,
            lines: 0,
            duration: Time::ZERO,
            packets: BTreeMap::new(),
            decoded: None,
            runs: Vec::new(),
            events: BTreeMap::new(),
            notes: Vec::new(),
            damaged_lines: 0,
            missing_lines: 0,
            damage: Vec::new(),
            torn_tail: false,
            seal: SealState::Missing,
        }
    }

    fn packet(&mut self, packet: &Packet) {
        self.duration = self.duration.max(Time::from_us(packet.t_us));
        let known = self.packets.contains_key(&packet.from);
        // A hostile file may name any number of them.
        let name = if known || self.packets.len() < LISTED {
            packet.from.as_str()
        } else {
            "others"
        };
        match self.packets.get_mut(name) {
            Some(count) => *count += 1,
            None => _ = self.packets.insert(name.to_owned(), 1),
        }
    }

    fn event(&mut self, event: TimedEvent) {
        let at = Time::from_us(event.t_us);
        self.duration = self.duration.max(at);
        *self.events.entry(kind(&event.event)).or_default() += 1;
        match event.event {
            Event::Run {
                cylinder,
                condition,
            } if self.runs.len() < LISTED => {
                self.runs.push(NamedRun {
                    at,
                    cylinder,
                    condition,
                });
            }
            Event::Mark { text } | Event::Note { text } if self.notes.len() < LISTED => {
                self.notes.push(text);
            }
            _ => {}
        }
    }

    fn damaged(&mut self, line: u64, count: u64, damage: Damage) {
        match &damage {
            Damage::Missing { lines } => {
                self.missing_lines = self.missing_lines.saturating_add(*lines);
            }
            Damage::TornTail => {
                self.torn_tail = true;
                self.damaged_lines += 1;
            }
            _ => self.damaged_lines += count,
        }
        if self.damage.len() < LISTED {
            self.damage.push(DamagedLine {
                line,
                count,
                damage,
            });
        }
    }
}

fn kind(event: &Event) -> &'static str {
    match event {
        Event::Run { .. } => "run",
        Event::End => "end",
        Event::Void { .. } => "void",
        Event::Name { .. } => "name",
        Event::Resumed { .. } => "resumed",
        Event::LinkLost => "link lost",
        Event::LinkBack => "link back",
        Event::Link(_) => "link quality",
        Event::LeakDown { .. } => "leak-down",
        Event::Decay { .. } => "decay",
        Event::Air { .. } => "air",
        Event::Heard { .. } => "heard",
        Event::Mark { .. } => "mark",
        Event::Note { .. } => "note",
    }
}
