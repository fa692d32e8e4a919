//! Tells a holding rig from a following one by what the pressure does after it rose.

use crate::signal::results::Rig;

/// After a peak, a following rig falls below this share of it; a holding rig does not.
const FALLEN: f64 = 0.3;
/// A holding rig stays above this share.
const HELD: f64 = 0.4;
/// Held for this long (s), it is a holding rig: no compression stroke lasts as long.
const HELD_S: f64 = 1.0;
/// Gone sooner than this (s), it is a following rig; later, it was held and bled.
pub(crate) const GONE_S: f64 = 1.0;

/// A second rise this long (s) after the first, from a level that was kept, is a second step.
const STEP_APART_S: f64 = 0.08;

/// Watches the first strokes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct RigFinder {
    floor: f64,
    highest: f64,
    /// Since when the pressure has been above [`HELD`] of the highest, and when it last was.
    since: f64,
    last_high: f64,
    /// When the highest was reached.
    raised: f64,
    /// Lowest since the highest.
    lowest: f64,
    voted: bool,
}

impl RigFinder {
    /// `floor`: the smallest rise that counts.
    pub(crate) fn new(floor: f64) -> Self {
        Self {
            floor,
            highest: floor,
            since: f64::INFINITY,
            last_high: f64::INFINITY,
            raised: f64::INFINITY,
            lowest: f64::INFINITY,
            voted: false,
        }
    }

    /// Takes a sample (gauge); says which rig it is each time that a pulse shows it.
    pub(crate) fn push(&mut self, t: f64, x: f64) -> Option<Rig> {
        if self.voted {
            // This pulse has spoken; the next one begins when it is gone.
            if x < FALLEN * self.highest {
                *self = Self::new(self.floor);
            }
            self.highest = self.highest.max(x);
            return None;
        }
        let rig = self.look(t, x)?;
        self.voted = true;
        Some(rig)
    }

    /// Whether samples between these levels leave it as it is, but for the highest.
    pub(crate) fn stays(&self, low: f64, high: f64) -> bool {
        if self.voted {
            low >= FALLEN * self.highest.max(high)
        } else {
            high <= self.highest && !self.since.is_finite()
        }
    }

    /// Takes samples with which it [stays](Self::stays), of which the highest is `high`.
    pub(crate) fn pass_over(&mut self, high: f64) {
        self.highest = self.highest.max(high);
    }

    fn look(&mut self, t: f64, x: f64) -> Option<Rig> {
        if x > self.highest {
            let stepped = self.lowest.is_finite() && self.lowest > 0.5 * self.highest;
            let clearly_higher = x > 1.05 * self.highest + self.floor;
            if stepped && clearly_higher && t - self.raised > STEP_APART_S {
                return Some(Rig::Holding);
            }
            if self.since == f64::INFINITY || HELD * x > self.highest {
                self.since = t;
            }
            self.highest = x;
            self.last_high = t;
            self.raised = t;
            self.lowest = f64::INFINITY;
            return None;
        }
        if !self.since.is_finite() {
            return None;
        }
        self.lowest = self.lowest.min(x);
        if x >= HELD * self.highest {
            self.last_high = t;
            if t - self.since >= HELD_S {
                return Some(Rig::Holding);
            }
        } else if x < FALLEN * self.highest {
            return Some(if self.last_high - self.since < GONE_S {
                Rig::Following
            } else {
                Rig::Holding
            });
        }
        None
    }
}

#[cfg(test)]
mod tests;
