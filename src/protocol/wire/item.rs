//! What a stream is taken apart into.

/// What is found in a stream, in order.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::protocol) enum Item {
    /// A message. `at` is where it begins, in bytes of the stream.
    Message { at: usize, payload: Vec<u8> },
    /// A frame or line whose check failed, or whose length cannot be.
    Spoilt { at: usize },
    /// A line that does not fit the pattern; `gap`: it may have been a sample.
    Unread { at: usize, gap: bool },
    /// Bytes between frames, or a line whose beginning was not seen.
    Skipped { bytes: usize },
}
