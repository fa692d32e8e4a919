//! From packets to messages, where a packet is not a message: lines of text and frames that are
//! cut into packets anywhere. A message is handed on in the form that the layout knows: a frame
//! without its check; a line's numbers packed one after the other.

mod check;
mod frames;
mod item;
mod lines;
mod pattern;
pub(super) mod spec;
mod table;

pub(super) use frames::{FrameShape, Frames};
pub(super) use item::Item;
pub(super) use lines::Lines;
pub(super) use pattern::{Pattern, ReadLine, check_digits};
pub(super) use table::{Found, Table};

use super::layout::Layout;
use super::spec::{Answer, Spec};

/// Finds the messages.
#[derive(Clone, Debug)]
pub(super) enum Assembler {
    Lines(Lines),
    Frames(Frames),
}

impl Assembler {
    /// None where each packet is a message.
    pub(super) fn new(spec: &Spec, layout: &Layout) -> Option<Self> {
        if let Some(shape) = &layout.frame {
            return Some(Self::Frames(Frames::new(shape.clone())));
        }
        let longest = spec.stream.text.as_ref()?.longest;
        let answer = spec.stream.ask.as_ref().map(|ask| ask.answer);
        let whole = answer == Some(Answer::Read);
        let pattern = layout.pattern.clone()?;
        Some(Self::Lines(Lines::new(pattern, longest, whole)))
    }

    /// Takes a packet; what it completes is added to `out`.
    pub(super) fn take(&mut self, packet: &[u8], out: &mut Vec<Item>) {
        match self {
            Self::Lines(lines) => lines.take(packet, out),
            Self::Frames(frames) => frames.take(packet, out),
        }
    }

    /// For a stretch of the stream whose beginning is known.
    pub(super) fn at_its_beginning(self) -> Self {
        match self {
            Self::Lines(lines) => Self::Lines(lines.at_its_beginning()),
            frames @ Self::Frames(_) => frames,
        }
    }

    /// Bytes that are held because the rest of their message has not come.
    pub(super) fn waiting(&self) -> usize {
        match self {
            Self::Lines(lines) => lines.waiting(),
            Self::Frames(frames) => frames.waiting(),
        }
    }

    /// Nothing comes after what is held. An unfinished line is no line.
    pub(super) fn give_up(&mut self, out: &mut Vec<Item>) {
        if let Self::Frames(frames) = self {
            frames.give_up(out);
        }
    }

    /// The stream begins anew: what is held is given up.
    pub(super) fn begin_anew(&mut self, out: &mut Vec<Item>) {
        match self {
            Self::Lines(lines) => lines.begin_anew(out),
            Self::Frames(frames) => frames.begin_anew(out),
        }
    }
}
