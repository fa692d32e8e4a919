//! The stage of a test with air that is under way.

use super::Stage;
use super::plateau::{Bin, Finder};

/// A connected pressure fell away when it lost so much of what it had come to, within so long (s).
pub(super) const FALLS_TO: f64 = 0.7;
const FALLS_WITHIN_S: f64 = 4.0;
/// A sensor that still reads this share of the supply is not connected yet: a cylinder that fills
/// takes more from it. Within a wait so long (s) it is, or filled too fast to be seen.
const NOT_YET: f64 = 0.93;
const WAIT_S: f64 = 4.0;
/// From this share of the supply on a pressure counts as come to something.
const SOMETHING: f64 = 0.04;
/// After so long (s) without a plateau the pressure is said to wander.
const PATIENCE_S: f64 = 12.0;

/// The stage under way.
#[derive(Clone, Debug)]
pub(super) struct Running {
    pub(super) stage: Stage,
    pub(super) began: f64,
    pub(super) finder: Finder,
    /// In a round: the valve is being turned, and nothing is read until the user says that it is done.
    pub(super) turning: bool,
    /// In a round: what this reading made of it was told.
    pub(super) told: bool,
    /// The cylinder was seen to fill.
    filled: bool,
    /// The lowest since it was connected, what it has come to since, and when it was last there.
    lowest: f64,
    top: f64,
    top_at: f64,
    pub(super) fall: Vec<Bin>,
}

impl Running {
    /// Begins now (s); said again where the user says that what was asked for is done.
    pub(super) fn new(stage: Stage, began: f64, finder: Finder, again: bool) -> Self {
        Self {
            stage,
            began,
            finder,
            turning: false,
            told: false,
            filled: again,
            lowest: f64::MAX,
            top: 0.0,
            top_at: 0.0,
            fall: Vec::new(),
        }
    }

    /// Whether no plateau came for so long that it is said to wander.
    pub(super) fn is_late(&self, bin: Bin) -> bool {
        bin.at - self.began > PATIENCE_S && self.finder.still_looks()
    }

    /// Whether the air goes into the cylinder: whoever says so may still have to open it.
    pub(super) fn is_connected(&mut self, bin: Bin, supply: f64) -> bool {
        if !self.filled && bin.mean < NOT_YET * supply {
            self.filled = true;
            self.finder.begin_anew();
        }
        self.filled || bin.at - self.began > WAIT_S
    }

    /// Whether a connected pressure has just lost what it had come to. When the cylinder is opened
    /// the sensor falls from the supply first, as the cylinder fills: only what comes after counts.
    pub(super) fn fell_away(&mut self, bin: Bin, supply: f64) -> bool {
        self.lowest = self.lowest.min(bin.mean);
        let something = SOMETHING * supply;
        let risen = bin.mean > self.lowest + something;
        let stands = self.filled && self.finder.plateau().is_some() && bin.mean > something;
        if (risen || stands) && bin.mean >= 0.9 * self.top {
            self.top_at = bin.at;
            self.top = self.top.max(bin.mean);
        }
        let fell = self.top > 0.0
            && bin.mean < FALLS_TO * self.top
            && bin.at - self.top_at < FALLS_WITHIN_S;
        if fell {
            // What it comes to now is another matter.
            (self.top, self.lowest) = (0.0, bin.mean);
        }
        fell
    }
}
