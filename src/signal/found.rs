//! What the two stroke finders hand on.

/// A stroke as a finder sees it, in seconds and pascal (gauge).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Found {
    /// When the peak (or the step) was.
    pub(super) time: f64,
    /// The peak, or the level held after the step.
    pub(super) level: f64,
    /// Standard uncertainty of the level from noise.
    pub(super) standard: f64,
    /// Standard uncertainty of the level from the sample rate: much the same in every stroke.
    pub(super) bias: f64,
    /// What interpolation added to the highest sample.
    pub(super) added: f64,
    /// The most by which the sample rate may have cut the peak off, before interpolation.
    pub(super) cut_off: f64,
    /// The level that it found; 0 on a following rig.
    pub(super) from: f64,
    /// Samples are missing around it.
    pub(super) missing: bool,
    /// The sensor was at the end of its range.
    pub(super) clipped: bool,
}
