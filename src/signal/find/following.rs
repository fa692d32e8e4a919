//! Following rig: strokes as peaks by prominence, streaming.
//!
//! A peak counts when the pressure rose to it and fell from it by at least a threshold: the
//! peaks that have at least that prominence. The threshold follows the noise and the size of the
//! strokes.

use super::Found;
use super::peak_fit::{self, Point, Skews};

/// Samples kept for the fit of a peak's top.
const KEPT: usize = 128;
/// A peak must stand out by this share of the usual peak.
const SHARE: f64 = 0.15;
/// A stroke is over when the pressure has fallen below this share of its peak: a piston that
/// rocks back and comes again makes one stroke.
const OVER: f64 = 0.5;
/// The top is fitted as soon as the pressure has fallen below this share of the peak, where enough
/// samples lie above it; otherwise when the stroke is over.
const TOP: f64 = 0.80;
/// A slow sensor's samples are used down to this share of the peak.
const WIDEST: f64 = 0.15;
/// The fit narrows down to the top by these shares of the peak, …
const CLOSE: [f64; 9] = [0.3, 0.45, 0.6, 0.7, 0.8, 0.86, 0.91, 0.95, 0.97];
/// … as long as so many samples remain.
const ENOUGH: usize = 7;

/// Where the pressure is going.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Going {
    /// Up from a valley; no peak yet.
    Up,
    /// Down from a peak that was already handed on.
    Down,
}

/// Finds strokes as peaks.
#[derive(Clone, Debug)]
pub(crate) struct Following {
    kept: [Point; KEPT],
    /// How many samples were ever kept; the newest is at `(count − 1) % KEPT`.
    count: usize,
    going: Going,
    highest: Point,
    highest_at: usize,
    lowest: f64,
    fitted: Option<Found>,
    /// A gap or the end of the range within the stroke in hand.
    missing: bool,
    clipped: bool,
    /// Smallest prominence, from noise and resolution.
    floor: f64,
    noise: f64,
    ambient: f64,
    /// Running height of the strokes.
    usual: f64,
    skews: Skews,
}

impl Following {
    /// `floor`: the smallest prominence of a stroke; `noise`: standard deviation of a sample;
    /// `ambient`: absolute pressure around (all in the same unit as the samples).
    pub(crate) fn new(floor: f64, noise: f64, ambient: f64) -> Self {
        let nothing = Point { t: 0.0, x: 0.0 };
        Self {
            kept: [nothing; KEPT],
            count: 0,
            going: Going::Up,
            highest: nothing,
            highest_at: 0,
            lowest: f64::INFINITY,
            fitted: None,
            missing: false,
            clipped: false,
            floor,
            noise,
            ambient,
            usual: 0.0,
            skews: Skews::new(),
        }
    }

    fn threshold(&self) -> f64 {
        self.floor.max(SHARE * self.usual)
    }

    /// Takes a sample (gauge); gives a stroke once its peak has passed.
    pub(crate) fn push(&mut self, t: f64, x: f64, gap: bool, clipped: bool) -> Option<Found> {
        self.kept[self.count % KEPT] = Point { t, x };
        self.count += 1;
        let threshold = self.threshold();
        match self.going {
            Going::Up => self.climb(Point { t, x }, gap, clipped, threshold),
            Going::Down => {
                self.missing |= gap;
                if x < self.lowest {
                    self.lowest = x;
                    self.missing = gap;
                } else if x - self.lowest >= threshold {
                    self.going = Going::Up;
                    self.begin(Point { t, x }, clipped);
                }
                None
            }
        }
    }

    /// Whether the pressure is going down and, with samples between these levels, goes on so.
    pub(crate) fn stays_down(&self, low: f64, high: f64) -> bool {
        self.going == Going::Down && high - self.lowest.min(low) < self.threshold()
    }

    /// Takes samples with which it [stays so](Self::stays_down), without gap or clipping, of which
    /// the lowest is `low`.
    pub(crate) fn pass_over(&mut self, samples: impl Iterator<Item = (f64, f64)>, low: f64) {
        for (t, x) in samples {
            self.kept[self.count % KEPT] = Point { t, x };
            self.count += 1;
        }
        if low < self.lowest {
            self.lowest = low;
            self.missing = false;
        }
    }

    fn begin(&mut self, at: Point, clipped: bool) {
        self.highest = at;
        self.highest_at = self.count - 1;
        self.clipped = clipped;
        self.fitted = None;
    }

    fn climb(&mut self, at: Point, gap: bool, clipped: bool, threshold: f64) -> Option<Found> {
        self.missing |= gap;
        self.clipped |= clipped;
        if self.count == 1 || at.x > self.highest.x {
            let clipped = self.clipped;
            self.begin(at, clipped);
        }
        self.lowest = self.lowest.min(at.x);
        let fallen = self.highest.x - at.x;
        if self.fitted.is_none() && at.x < TOP * self.highest.x {
            let (first, end) = self.span(TOP);
            if end - first >= ENOUGH {
                self.fitted = Some(self.fit());
            }
        }
        // The valley before the very first peak is where the recording began.
        if fallen < threshold || self.highest.x < threshold || at.x > OVER * self.highest.x {
            return None;
        }
        let found = match self.fitted.take() {
            Some(found) => found,
            None => self.fit(),
        };
        self.going = Going::Down;
        self.lowest = at.x;
        self.missing = false;
        self.clipped = false;
        self.usual = if self.usual > 0.0 {
            // Follows a rising engine fast, and a single weak kick slowly.
            let pace = if found.level > self.usual { 0.5 } else { 0.2 };
            self.usual + pace * (found.level - self.usual)
        } else {
            found.level
        };
        Some(found)
    }

    fn fit(&mut self) -> Found {
        let mut span = self.span(WIDEST);
        for share in CLOSE {
            let closer = self.span(share);
            if closer.1 - closer.0 < ENOUGH {
                break;
            }
            span = closer;
        }
        let points: Vec<Point> = (span.0..span.1).map(|index| self.at(index)).collect();
        let top = peak_fit::top(
            &points,
            self.highest,
            self.ambient,
            self.noise,
            &mut self.skews,
        );
        Found {
            time: top.time,
            level: top.level,
            standard: top.standard,
            bias: top.bias,
            added: (top.level - self.highest.x).max(0.0),
            cut_off: top.cut_off,
            from: 0.0,
            missing: self.missing,
            clipped: self.clipped,
        }
    }

    fn at(&self, index: usize) -> Point {
        self.kept[index % KEPT]
    }

    /// The samples about the highest that are not below `share` of it, with one neighbour at
    /// least on either side, so that a top of one sample can be fitted at all.
    fn span(&self, share: f64) -> (usize, usize) {
        let oldest = self.count.saturating_sub(KEPT);
        let centre = self.highest_at.max(oldest);
        let least = share * self.highest.x;
        let (mut first, mut end) = (centre, centre + 1);
        while first > oldest && (first == centre || self.at(first - 1).x >= least) {
            first -= 1;
        }
        while end < self.count && (end == centre + 1 || self.at(end).x >= least) {
            end += 1;
        }
        (first, end)
    }
}

#[cfg(test)]
mod tests;
