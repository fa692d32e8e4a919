//! From samples to strokes: peaks where the reading follows the cylinder, steps where it is held.

mod cusum;
pub(super) mod following;
pub(super) mod holding;
mod peak_fit;
pub(super) mod rig;

/// A stroke as a finder sees it, in seconds and pascal (gauge).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Found {
    /// When the peak (or the step) was.
    pub(crate) time: f64,
    /// The peak, or the level held after the step.
    pub(crate) level: f64,
    /// Standard uncertainty of the level from noise.
    pub(crate) standard: f64,
    /// Standard uncertainty of the level from the sample rate: much the same in every stroke.
    pub(crate) bias: f64,
    /// What interpolation added to the highest sample.
    pub(crate) added: f64,
    /// The most by which the sample rate may have cut the peak off, before interpolation.
    pub(crate) cut_off: f64,
    /// The level that it found; 0 on a following rig.
    pub(crate) from: f64,
    /// Samples are missing around it.
    pub(crate) missing: bool,
    /// The sensor was at the end of its range.
    pub(crate) clipped: bool,
}
