//! From strokes to the needle and where it leads to.

pub(super) mod cadence;
pub(super) mod chances;
pub(super) mod climb;
pub(super) mod needle;

pub(super) use chances::Chance;
pub use turned::Turned;
mod turned;

/// A stroke that was made: when, and its top or the level that it made (s, Pa gauge).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Made {
    pub(super) time: f64,
    pub(super) level: f64,
    /// Its highest sample: what a top is known by without any fit.
    pub(super) sampled: f64,
}
