//! Lines found in a stream of text that is cut into packets anywhere.

use super::item::Item;
use super::pattern::{Pattern, Unfit};

/// Looks for lines. Holds at most the longest line.
#[derive(Clone, Debug)]
pub(in crate::protocol) struct Lines {
    pattern: Pattern,
    longest: usize,
    /// Each packet is a line of its own: what was read, not notified.
    whole: bool,
    buffer: Vec<u8>,
    /// Bytes of the stream before those in the buffer.
    passed: usize,
    /// The beginning of the line under way has not been seen.
    headless: bool,
    /// The line under way is too long already; its bytes so far.
    too_long: usize,
}

impl Lines {
    pub(in crate::protocol) fn new(pattern: Pattern, longest: usize, whole: bool) -> Self {
        Self {
            headless: !whole && pattern.begins_with_a_number(),
            pattern,
            longest,
            whole,
            buffer: Vec::new(),
            passed: 0,
            too_long: 0,
        }
    }

    /// For a stretch whose beginning is known.
    pub(super) fn at_its_beginning(mut self) -> Self {
        self.headless = false;
        self
    }

    pub(super) fn waiting(&self) -> usize {
        self.buffer.len() + self.too_long
    }

    /// Takes a piece of the stream; what it completes is added to `out`.
    pub(super) fn take(&mut self, piece: &[u8], out: &mut Vec<Item>) {
        let mut rest = piece;
        while let Some(end) = rest.iter().position(|byte| *byte == b'\n') {
            self.hold(&rest[..end]);
            self.end(out);
            self.passed += 1;
            rest = &rest[end + 1..];
        }
        self.hold(rest);
        if self.whole && self.waiting() > 0 {
            self.end(out);
        }
    }

    fn hold(&mut self, bytes: &[u8]) {
        // The carriage return is part of the end.
        if self.too_long > 0 || self.buffer.len() + bytes.len() > self.longest + 1 {
            self.too_long += self.buffer.len() + bytes.len();
            self.buffer.clear();
        } else {
            self.buffer.extend_from_slice(bytes);
        }
    }

    fn end(&mut self, out: &mut Vec<Item>) {
        let at = self.passed;
        let length = self.waiting();
        self.passed += length;
        let too_long = std::mem::take(&mut self.too_long) > 0;
        let line = self.buffer.strip_suffix(b"\r").unwrap_or(&self.buffer);
        let item = if std::mem::take(&mut self.headless) {
            Some(Item::Skipped { bytes: length + 1 })
        } else if too_long || line.len() > self.longest {
            Some(Item::Unread { at, gap: true })
        } else if line.is_empty() {
            None
        } else {
            Some(match self.pattern.read(line) {
                Ok(read) => Item::Message {
                    at,
                    payload: read.payload,
                },
                Err(Unfit::Check) => Item::Spoilt { at },
                Err(Unfit::Spoilt) => Item::Unread { at, gap: true },
                Err(Unfit::Other) => Item::Unread { at, gap: false },
            })
        };
        out.extend(item);
        self.buffer.clear();
    }

    /// The stream begins anew: what is held is given up.
    pub(super) fn begin_anew(&mut self, out: &mut Vec<Item>) {
        let bytes = self.waiting();
        if bytes > 0 {
            out.push(Item::Skipped { bytes });
        }
        self.passed += bytes;
        self.buffer.clear();
        self.too_long = 0;
        self.headless = !self.whole && self.pattern.begins_with_a_number();
    }
}
