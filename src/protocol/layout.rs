//! A stream's layout, ready to read and write payloads by: every field at its place.

use super::number::ByteOrder;
use super::slot::Slot;
use super::spec::{Field, Reading, Role, Spec, Stream};
use super::wire::{FrameShape, Pattern};
use std::ops::Range;

/// How many samples a packet holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Repeat {
    /// Always this many.
    Fixed(usize),
    /// What the field of role `count` says.
    Counted,
    /// As many as fit to the end of the payload.
    ToTheEnd,
}

/// Where the fields of a notification are.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Layout {
    /// Every field before the block of samples, in the order of the file.
    pub head: Vec<Slot>,
    /// Bytes before the block.
    pub head_size: usize,
    /// The fields of one sample.
    pub sample: Vec<Slot>,
    /// Those that must hold a certain number.
    pub markers: Vec<Slot>,
    /// What a frame is made of, if the stream is of frames.
    pub frame: Option<FrameShape>,
    /// What a line looks like, if the stream is of text.
    pub pattern: Option<Pattern>,
    /// Where the first sample begins.
    pub start: usize,
    /// Bytes from one sample to the next.
    pub stride: usize,
    /// How many samples a packet holds.
    pub repeat: Repeat,
    /// The most samples a packet can hold.
    pub most: usize,
    pub sequence: Option<Slot>,
    pub tick: Option<Slot>,
    pub interval: Option<Slot>,
    pub count: Option<Slot>,
    pub status: Option<Slot>,
    pub battery: Option<Slot>,
    /// Temperature before the block.
    pub temperature: Option<Slot>,
    /// Where the bytes of these three are, with what lies between them.
    pub tells: Range<usize>,
    /// Pressure, relative to the start of its sample.
    pub pressure: Slot,
    /// Temperature of each sample, relative to its start.
    pub sample_temperature: Option<Slot>,
}

impl Layout {
    /// How many samples the message has room for.
    pub(super) fn samples_that_fit(&self, message: &[u8]) -> usize {
        message.len().saturating_sub(self.start) / self.stride.max(1)
    }

    /// Whether it is a message about pressure, by the fields that must hold a certain number.
    pub(super) fn is_about_pressure(&self, message: &[u8]) -> bool {
        self.markers.iter().all(|slot| slot.is_as_it_must(message))
    }

    /// Puts every field at its place. None if there is no field of role `pressure`; all else that
    /// can be wrong is for the validation to find.
    pub(super) fn new(spec: &Spec) -> Option<Self> {
        let stream = &spec.stream;
        let head = head(stream);
        let head_size = end(&head).max(stream.header());
        let in_head = |role| find(&head, role);
        let (sample, start, stride) = match &stream.samples {
            Some(samples) => {
                let sample = placed(&samples.fields, stream.byte_order, 0);
                let stride = end(&sample);
                (sample, head_size, stride)
            }
            // A single sample: its one field is among the others.
            None => (vec![in_head(Role::Pressure)?], 0, head_size),
        };
        let count = in_head(Role::Count);
        let [status, battery, temperature] =
            [Role::Status, Role::Battery, Role::Temperature].map(in_head);
        let tells: Vec<&Slot> = [&status, &battery, &temperature]
            .into_iter()
            .flatten()
            .collect();
        let tells_from = tells.iter().map(|slot| slot.at).min().unwrap_or(0);
        let tells_to = tells.iter().map(|slot| slot.end()).max().unwrap_or(0);
        let repeat = match stream.samples.as_ref().map(|samples| samples.count) {
            None => Repeat::Fixed(1),
            Some(Some(count)) => Repeat::Fixed(count),
            Some(None) if count.is_some() => Repeat::Counted,
            Some(None) => Repeat::ToTheEnd,
        };
        let fit = stream.room().saturating_sub(start) / stride.max(1);
        let stated = stream.samples.as_ref().and_then(|samples| samples.at_most);
        let most = match repeat {
            Repeat::Fixed(count) => count,
            _ => fit.min(stated.unwrap_or(fit)),
        };
        let fields = match repeat {
            Repeat::Fixed(count) => head_size.max(start + count * stride),
            _ => head_size,
        };
        Some(Self {
            markers: head
                .iter()
                .filter(|slot| slot.equals.is_some())
                .cloned()
                .collect(),
            frame: FrameShape::new(stream, fields),
            pattern: Pattern::new(stream, &head).and_then(Result::ok),
            head_size,
            start,
            stride,
            repeat,
            most,
            sequence: in_head(Role::Sequence),
            tick: in_head(Role::Tick),
            interval: in_head(Role::Interval),
            count,
            tells: tells_from..tells_to,
            status,
            battery,
            temperature,
            pressure: find(&sample, Role::Pressure)?,
            sample_temperature: stream
                .samples
                .as_ref()
                .and_then(|_| find(&sample, Role::Temperature)),
            head,
            sample,
        })
    }
}

/// The field of another characteristic, at the start of its payload unless it says otherwise.
pub(super) fn reading_slot(reading: &Reading) -> Slot {
    Slot::new(
        &reading.field,
        ByteOrder::default(),
        reading.field.at.unwrap_or(0),
    )
}

/// The stream's fields before the block, each at its place.
pub(super) fn head(stream: &Stream) -> Vec<Slot> {
    let slots = placed(&stream.fields, stream.byte_order, stream.header());
    match &stream.text {
        Some(text) => slots.into_iter().map(|slot| slot.in_text(text)).collect(),
        None => slots,
    }
}

/// The fields one after the other from a place on, except where one says where it begins. Positions beyond any
/// payload are for the validation to reject, so nothing here may overflow.
pub(super) fn placed(fields: &[Field], order: ByteOrder, from: usize) -> Vec<Slot> {
    let mut next = from;
    let mut slots = Vec::with_capacity(fields.len());
    for field in fields {
        let slot = Slot::new(field, order, field.at.unwrap_or(next).min(usize::MAX / 2));
        next = slot.end();
        slots.push(slot);
    }
    slots
}

fn find(slots: &[Slot], role: Role) -> Option<Slot> {
    slots.iter().find(|slot| slot.role == role).cloned()
}

fn end(slots: &[Slot]) -> usize {
    slots.iter().map(Slot::end).max().unwrap_or(0)
}
