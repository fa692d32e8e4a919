//! A payload, shown field by field.

use super::file::ProtocolFile;
use super::layout::{Layout, Repeat};
use super::number::Raw;
use super::slot::{Slot, Value};
use super::spec::{Role, Severity};
use super::wire::{Assembler, Item, Pattern, ReadLine};
use serde::Serialize;

/// A payload of the stream, shown field by field.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Explained {
    /// The fields, in the order of the payload.
    pub rows: Vec<Row>,
    /// What is wrong with the payload, or worth knowing, in plain words.
    pub notes: Vec<String>,
    /// The payload is long enough for what it should hold, so that a decoder takes it.
    pub usable: bool,
}

/// One field.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// What it is for.
    pub role: Role,
    /// What the protocol file calls it, if it does.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// Which sample of the packet it belongs to, from 1; none for a field before the samples.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sample: Option<usize>,
    /// Where it begins, in bytes from the start of the payload.
    pub at: usize,
    /// How it is written.
    #[serde(rename = "type")]
    pub kind: &'static str,
    /// Its bytes as sent, in hexadecimal.
    pub bytes: String,
    /// The number in them, before scale and unit.
    pub raw: String,
    /// The value, where it is a number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<f64>,
    /// Unit of the value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub unit: Option<&'static str>,
    /// What it means, where that is not the value alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub meaning: Option<String>,
}

/// Shows a payload of the stream field by field. Where the stream is of frames or lines of text,
/// `payload` is a stretch of it, of any length, and each frame or line in it is shown.
pub fn explain(file: &ProtocolFile, payload: &[u8]) -> Explained {
    let mut shown = Explained {
        rows: Vec::new(),
        notes: Vec::new(),
        usable: true,
    };
    match Assembler::new(file.spec(), file.layout()) {
        None => shown = message(file, payload),
        Some(assembler) => shown.stretch(file, assembler.at_its_beginning(), payload),
    }
    shown
}

/// Shows a message: a payload, or a frame without its check.
fn message(file: &ProtocolFile, payload: &[u8]) -> Explained {
    let layout = file.layout();
    let mut shown = Explained {
        rows: Vec::new(),
        notes: Vec::new(),
        usable: true,
    };
    for slot in &layout.head {
        shown.add(file, slot, None, 0, payload);
    }
    if !layout.is_about_pressure(payload) {
        shown.usable = false;
        shown.notes.push(
            "of another kind: a field does not hold the number that it must; it would be passed \
             over"
                .to_owned(),
        );
    }
    if file.spec().stream.samples.is_some() && payload.len() >= layout.head_size {
        shown.samples(file, layout, payload);
    }
    let read = shown.rows.iter().map(|row| row.at + row.bytes.len() / 2);
    let read = read.max().unwrap_or(0).max(layout.head_size);
    if payload.len() > read {
        let extra = hex::encode(&payload[read..]);
        shown
            .notes
            .push(format!("bytes left over at {read}: {extra}"));
    }
    shown
}

impl Explained {
    /// Shows each message in a stretch of the stream.
    fn stretch(&mut self, file: &ProtocolFile, mut assembler: Assembler, bytes: &[u8]) {
        let mut items = Vec::new();
        assembler.take(bytes, &mut items);
        let is_text = file.layout().pattern.is_some();
        if is_text && assembler.waiting() > 0 {
            // Whoever types a line seldom types its end.
            assembler.take(b"\n", &mut items);
        }
        let one = if is_text { "line" } else { "frame" };
        for item in &items {
            match item {
                Item::Message { at, payload } => {
                    let mut shown = message(file, payload);
                    if let Some(pattern) = &file.layout().pattern {
                        shown.place(pattern, bytes.get(*at..).unwrap_or_default());
                    }
                    for row in &mut shown.rows {
                        row.at += at;
                    }
                    self.usable &= shown.usable;
                    self.rows.extend(shown.rows);
                    self.notes.extend(shown.notes);
                }
                Item::Spoilt { at } if is_text => {
                    self.lacks(&format!("the check of the line at byte {at} fails"));
                }
                Item::Spoilt { at } => self.lacks(&format!(
                    "the frame at byte {at} has a length that cannot be, or its check fails"
                )),
                Item::Unread { at, .. } => {
                    self.lacks(&format!("the line at byte {at} does not fit the pattern"));
                }
                Item::Skipped { bytes } => {
                    self.notes
                        .push(format!("{bytes} bytes that begin no {one}"));
                }
            }
        }
        if self.rows.is_empty() && self.usable {
            self.lacks(&format!("no whole {one} is among these bytes"));
        } else if assembler.waiting() > 0 {
            let bytes = assembler.waiting();
            let note = format!("{bytes} bytes at the end, of which a {one} may come");
            self.notes.push(note);
        }
    }

    fn lacks(&mut self, what: &str) {
        self.usable = false;
        self.notes.push(format!("{what}; it would not be used"));
    }

    /// Says of each row where it stands in the line, not where its number was put.
    fn place(&mut self, pattern: &Pattern, from: &[u8]) {
        let line = from.split(|byte| *byte == b'\n').next().unwrap_or_default();
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        let Ok(ReadLine { places, .. }) = pattern.read(line) else {
            return;
        };
        for (row, place) in self.rows.iter_mut().zip(places) {
            row.at = place.start;
            row.bytes = hex::encode(line.get(place).unwrap_or_default());
        }
    }

    fn samples(&mut self, file: &ProtocolFile, layout: &Layout, payload: &[u8]) {
        let fit = (payload.len() - layout.start) / layout.stride;
        let said = match layout.repeat {
            Repeat::Fixed(count) => count,
            Repeat::ToTheEnd => fit,
            Repeat::Counted => {
                let count = layout.count.as_ref().and_then(|slot| slot.count(payload));
                count
                    .and_then(|count| usize::try_from(count).ok())
                    .unwrap_or(0)
            }
        };
        if said > fit {
            self.usable = false;
            self.notes.push(format!(
                "too short: {said} samples should follow, {fit} do; the packet would not be used"
            ));
        }
        for index in 0..said.min(fit) {
            let start = layout.start + index * layout.stride;
            for slot in &layout.sample {
                self.add(file, slot, Some(index + 1), start, payload);
            }
        }
    }

    fn add(
        &mut self,
        file: &ProtocolFile,
        slot: &Slot,
        sample: Option<usize>,
        start: usize,
        payload: &[u8],
    ) {
        let at = start + slot.at;
        let sample_bytes = payload.get(start..).unwrap_or_default();
        let Some(raw) = slot.raw(sample_bytes) else {
            // The first field that is missing tells it all.
            if !std::mem::replace(&mut self.usable, false) {
                return;
            }
            self.notes.push(format!(
                "too short: the {} at byte {at} needs {} bytes; the packet would not be used",
                label(slot),
                slot.kind.size()
            ));
            return;
        };
        let value = slot.value(raw);
        self.rows.push(Row {
            role: slot.role,
            name: slot.name.clone(),
            sample,
            at,
            kind: slot.kind.name(),
            bytes: hex::encode(&payload[at..at + slot.kind.size()]),
            raw: raw_text(raw),
            value: match value {
                Value::Number(value) => Some(value),
                _ => None,
            },
            unit: slot.unit.map(super::values::Unit::symbol),
            meaning: meaning(file, slot, raw, value),
        });
    }
}

fn label(slot: &Slot) -> &str {
    slot.name.as_deref().unwrap_or(slot.role.name())
}

fn raw_text(raw: Raw) -> String {
    match raw {
        Raw::Integer(value) => value.to_string(),
        Raw::Real(value) => value.to_string(),
        Raw::NotANumber => "not a number".to_owned(),
        Raw::NotAtThisResolution => "not at this resolution".to_owned(),
        Raw::Reserved => "reserved".to_owned(),
        Raw::PlusInfinity => "+infinity".to_owned(),
        Raw::MinusInfinity => "-infinity".to_owned(),
    }
}

fn meaning(file: &ProtocolFile, slot: &Slot, raw: Raw, value: Value) -> Option<String> {
    match value {
        Value::Over => Some("above the range".to_owned()),
        Value::Under => Some("below the range".to_owned()),
        Value::Nothing => Some("no value".to_owned()),
        Value::Number(number) => match (slot.role, raw) {
            (Role::Status, Raw::Integer(bits)) => Some(status_text(file, bits as u32)),
            (Role::Tick | Role::Interval, Raw::Integer(ticks)) => file
                .tick_us()
                .map(|tick_us| format!("{} s", ticks as f64 * tick_us / 1e6)),
            (Role::Pressure, _) => {
                let high = file.range_high()?;
                (slot.pressure(number) >= high).then(|| "at the end of the range".to_owned())
            }
            _ => None,
        },
    }
}

fn status_text(file: &ProtocolFile, status: u32) -> String {
    let severity = |severity| match severity {
        Severity::Note => "note",
        Severity::Warning => "warning",
        Severity::Fault => "fault",
    };
    let mut parts: Vec<String> = file
        .status_bits(status)
        .map(|bit| format!("{}: {}", severity(bit.severity), bit.meaning))
        .collect();
    let unknown = status & !file.known_status();
    if unknown != 0 {
        parts.push(format!("unknown bits {unknown:#x}"));
    }
    if parts.is_empty() {
        parts.push("nothing to report".to_owned());
    }
    parts.join("; ")
}
