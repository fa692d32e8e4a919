//! Frames found in a stream of bytes that is cut into packets anywhere.

use super::item::Item;
use super::spec::Check;
use crate::protocol::number::{ByteOrder, NumberType, Raw};
use crate::protocol::spec::Stream;

/// Where a frame says how long it is.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::protocol) struct LengthAt {
    at: usize,
    kind: NumberType,
    order: ByteOrder,
    plus: usize,
}

/// What a frame is made of, ready to look for and to make.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::protocol) struct FrameShape {
    start: Vec<u8>,
    length: Option<LengthAt>,
    /// Bytes of the shortest frame and of the longest.
    sizes: (usize, usize),
    check: Option<Check>,
    order: ByteOrder,
}

impl FrameShape {
    /// None if the stream is not of frames. `fields` is how many bytes the fields take, from the
    /// start of the frame on.
    pub(in crate::protocol) fn new(stream: &Stream, fields: usize) -> Option<Self> {
        let frame = stream.frame.as_ref()?;
        let length = frame.length.as_ref().map(|length| LengthAt {
            at: length.at,
            kind: length.kind,
            order: length.byte_order.unwrap_or(stream.byte_order),
            plus: length.plus,
        });
        let read = length.as_ref().map_or(0, |at| at.at + at.kind.size());
        // Frames of another kind may be shorter than those with pressures.
        let body = if length.is_some() { read } else { fields };
        let shortest = body + frame.check.as_ref().map_or(0, Check::size);
        Some(Self {
            start: frame.start_bytes().unwrap_or_default(),
            sizes: (shortest, frame.longest.unwrap_or(shortest)),
            check: frame.check.clone(),
            order: stream.byte_order,
            length,
        })
    }

    /// Bytes of the frame that begins here; none if the bytes that say so have not come yet.
    fn size(&self, bytes: &[u8]) -> Option<usize> {
        let Some(length) = &self.length else {
            return Some(self.sizes.0);
        };
        match length.kind.read(bytes.get(length.at..)?, length.order)? {
            Raw::Integer(number) => usize::try_from(number).ok()?.checked_add(length.plus),
            _ => None,
        }
    }

    /// The frame without its check, if that holds.
    fn opened<'a>(&self, frame: &'a [u8]) -> Option<&'a [u8]> {
        let Some(check) = &self.check else {
            return Some(frame);
        };
        let (body, sent) = frame.split_at(frame.len() - check.size());
        let found = check.over(body).map(|value| check.bytes(value, self.order));
        (found.as_deref() == Some(sent)).then_some(body)
    }

    /// Makes a frame of what the fields say: start, length and check are put to it.
    pub(in crate::protocol) fn close(&self, mut body: Vec<u8>) -> Vec<u8> {
        if let Some(place) = body.get_mut(..self.start.len()) {
            place.copy_from_slice(&self.start);
        }
        let size = body.len() + self.check.as_ref().map_or(0, Check::size);
        if let Some(length) = &self.length {
            let mut bytes = Vec::with_capacity(4);
            let number = (size.saturating_sub(length.plus) as u64).cast_signed();
            length
                .kind
                .write(Raw::Integer(number), length.order, &mut bytes);
            if let Some(place) = body.get_mut(length.at..length.at + bytes.len()) {
                place.copy_from_slice(&bytes);
            }
        }
        if let Some(check) = &self.check {
            let value = check.over(&body).unwrap_or_default();
            body.extend(check.bytes(value, self.order));
        }
        body
    }
}

/// Looks for frames. Holds at most the longest frame and a packet.
#[derive(Clone, Debug)]
pub(in crate::protocol) struct Frames {
    shape: FrameShape,
    buffer: Vec<u8>,
    /// Bytes of the stream before those in the buffer.
    passed: usize,
    /// Bytes passed over since the last frame.
    skipped: usize,
    /// Up to here, counted as `passed` is, what is found wrong has been told already.
    blamed: usize,
}

impl Frames {
    pub(in crate::protocol) fn new(shape: FrameShape) -> Self {
        Self {
            shape,
            buffer: Vec::new(),
            passed: 0,
            skipped: 0,
            blamed: 0,
        }
    }

    /// Bytes that may be the beginning of a frame.
    pub(super) fn waiting(&self) -> usize {
        self.buffer.len()
    }

    /// Takes a piece of the stream; what it completes is added to `out`.
    pub(super) fn take(&mut self, piece: &[u8], out: &mut Vec<Item>) {
        self.buffer.extend_from_slice(piece);
        let mut from = 0;
        while let Some(step) = self.look(from, out) {
            from += step;
        }
        self.buffer.drain(..from);
        self.passed += from;
    }

    /// Looks at what begins at `from`; gives how many bytes are dealt with, none if more must come.
    fn look(&mut self, from: usize, out: &mut Vec<Item>) -> Option<usize> {
        let rest = self.buffer.get(from..).filter(|rest| !rest.is_empty())?;
        let known = rest.len().min(self.shape.start.len());
        if rest[..known] != self.shape.start[..known] {
            self.skipped += 1;
            return Some(1);
        }
        if known < self.shape.start.len() {
            return None;
        }
        let size = self.shape.size(rest)?;
        let at = self.passed + from;
        let fits = (self.shape.sizes.0..=self.shape.sizes.1).contains(&size);
        let opened = match rest.get(..size) {
            _ if !fits => None,
            None => return None,
            Some(frame) => self.shape.opened(frame).map(<[u8]>::to_vec),
        };
        if let Some(payload) = opened {
            self.tell_skipped(out);
            out.push(Item::Message { at, payload });
            self.blamed = at + size;
            return Some(size);
        }
        // What looks like a start within a frame that failed is no second failure.
        if at >= self.blamed {
            self.tell_skipped(out);
            out.push(Item::Spoilt { at });
            self.blamed = at + if fits { size } else { known };
        }
        self.skipped += 1;
        Some(1)
    }

    fn tell_skipped(&mut self, out: &mut Vec<Item>) {
        let bytes = std::mem::take(&mut self.skipped);
        if bytes > 0 {
            out.push(Item::Skipped { bytes });
        }
    }

    /// Nothing comes after what is held: frames behind a beginning that will never be whole are
    /// found all the same.
    pub(super) fn give_up(&mut self, out: &mut Vec<Item>) {
        while !self.buffer.is_empty() {
            self.buffer.remove(0);
            self.passed += 1;
            self.skipped += 1;
            self.take(&[], out);
        }
    }

    /// The stream begins anew.
    pub(super) fn begin_anew(&mut self, out: &mut Vec<Item>) {
        self.give_up(out);
        self.blamed = self.passed;
        self.tell_skipped(out);
    }
}
