//! Holding rig: strokes as upward changes of the held level, streaming.
//!
//! The change is found by Page's cumulative sum test (E. S. Page, *Biometrika* 41 (1954)
//! 100–115) on block means against the level held before, and confirmed by comparing the levels
//! before and after with their standard errors.

use super::Found;
use super::cusum::Cusum;

/// Samples are averaged over blocks of this length (s), or taken singly where they come slower.
const BLOCK_S: f64 = 0.004;
/// Drift allowed by the cumulative sum, in standard deviations of a block.
const ALLOWANCE: f64 = 0.75;
/// Cumulative sum at which a change is suspected, in standard deviations of a block.
const ALARM: f64 = 6.0;
/// A step must be this many standard errors high.
const CONFIRM: f64 = 4.5;
/// Nor is it one below so many steps of the sensor's resolution, …
const LEAST_STEPS: f64 = 1.6;
/// … or this share of the level: a sensor's slow noise does as much.
const LEAST_STEP: f64 = 0.0018;
/// A step is complete when the pressure has not risen any further for this long (s).
const SETTLE_S: f64 = 0.030;
/// The held level and its fall are followed over about this many blocks.
const MEMORY: f64 = 12.0;
/// Two strokes cannot be closer than this share of the usual interval, …
const REFRACTORY: f64 = 0.35;
/// … where that is shorter than this (s): longer ones are pauses between kicks.
const STEADY_S: f64 = 0.6;
/// Nor closer than this (s): 1200 crank turns a minute on a two-stroke.
const CLOSEST_S: f64 = 0.05;
/// After so long (s), whatever comes is a stroke of its own. Sooner, a rise that does not reach the
/// level of the stroke before it is none if it is small: hose lag, or the neighbour's stroke
/// through a leaking gasket …
const TAIL_S: f64 = 0.2;
/// … unless strokes come so fast that it is due: after this share of the usual interval.
const TAIL_SHARE_OF_INTERVAL: f64 = 0.7;
/// Small is less than this share of the level.
const TAIL_SHARE: f64 = 0.03;
/// A drift below this share of the level is not a step, however quiet the sensor.
const LEAST_SHARE: f64 = 2e-4;

/// After its top, a level falls if it comes out lower by this many standard deviations.
const FALLS: f64 = 2.5;

/// Root mean square of how far a falling level's top may be missed, as a share of its fall in a
/// block: uniform from nothing to all of it, 1 / sqrt(3).
const LATE: f64 = 0.577;

/// Samples being averaged.
#[derive(Clone, Copy, Debug, Default)]
struct Block {
    n: u32,
    time: f64,
    sum: f64,
    gap: bool,
    clipped: bool,
}

/// A rise that is under way.
#[derive(Clone, Copy, Debug)]
struct Rise {
    onset: f64,
    from: f64,
    from_blocks: f64,
    top: f64,
    /// Where the pressure last rose clearly, and when.
    marked: f64,
    top_time: f64,
    /// Blocks since the top, without it: sum and count.
    after: f64,
    after_n: f64,
    gap: bool,
    clipped: bool,
}

/// Finds strokes as steps.
#[derive(Clone, Debug)]
pub(crate) struct Holding {
    block: Block,
    per_block: u32,
    /// Standard deviation of a block's mean.
    noise: f64,
    /// Smallest step, from the resolution.
    least: f64,
    /// The held level as it is expected to go on: level, its fall a block, blocks it rests on.
    level: f64,
    fall: f64,
    level_blocks: f64,
    /// Lowest block since the last step.
    lowest: f64,
    cusum: Cusum,
    gap: bool,
    rise: Option<Rise>,
    /// When the last stroke's step began, and the level it made.
    last_step: Option<(f64, f64)>,
    usual_interval: Option<f64>,
    /// Highest level held.
    highest: f64,
}

impl Holding {
    /// `from`: the level before the first stroke; `noise`: standard deviation of a sample;
    /// `least`: the smallest step that counts; `period`: time between samples.
    pub(crate) fn new(from: f64, noise: f64, least: f64, period: f64) -> Self {
        let per_block = if period > 0.0 {
            (BLOCK_S / period + 0.5) as u32
        } else {
            1
        };
        let per_block = per_block.clamp(1, 1000);
        Self {
            block: Block::default(),
            per_block,
            noise: noise / f64::from(per_block).sqrt(),
            least,
            level: from,
            fall: 0.0,
            level_blocks: MEMORY,
            lowest: f64::NEG_INFINITY,
            cusum: Cusum::default(),
            gap: false,
            rise: None,
            last_step: None,
            usual_interval: None,
            highest: from,
        }
    }

    /// Highest level held.
    pub(crate) fn highest(&self) -> f64 {
        self.highest
    }

    /// Takes a sample (gauge); gives a stroke once its step is complete.
    pub(crate) fn push(&mut self, t: f64, x: f64, gap: bool, clipped: bool) -> Option<Found> {
        let block = &mut self.block;
        block.n += 1;
        block.time += t;
        block.sum += x;
        block.gap |= gap;
        block.clipped |= clipped;
        if block.n < self.per_block {
            return None;
        }
        let done = std::mem::take(block);
        let n = f64::from(done.n);
        let (t, x) = (done.time / n, done.sum / n);
        self.gap |= done.gap;
        match self.rise {
            None => {
                self.watch(t, x, done.clipped);
                None
            }
            Some(rise) => self.follow(rise, t, x, done),
        }
    }

    /// No rise under way: is there one now?
    fn watch(&mut self, t: f64, x: f64, clipped: bool) {
        // A fall that slows down must not look like a rise: nothing below the lowest is expected.
        let expected = (self.level + self.fall).max(self.lowest);
        let above = x - expected;
        let allowance = (ALLOWANCE * self.noise)
            .max(LEAST_SHARE * self.level.abs())
            .max(0.4 * self.least);
        self.cusum.push(t, above, allowance);
        if self.cusum.sum() == 0.0 {
            self.gap = false;
        }
        if self.cusum.sum() > (ALARM * self.noise).max(self.least) {
            self.rise = Some(Rise {
                onset: self.cusum.onset(),
                from: expected,
                from_blocks: self.level_blocks,
                top: x,
                marked: x,
                top_time: t,
                after: 0.0,
                after_n: 0.0,
                gap: self.gap,
                clipped,
            });
            self.cusum = Cusum::default();
            return;
        }
        self.expect(expected, above);
        // Of the smoothed level: the lowest of many noisy blocks lies below what is held, and a
        // fall that stops would look like a rise.
        self.lowest = if self.lowest.is_finite() {
            self.lowest.min(self.level)
        } else {
            self.level
        };
    }

    /// Holt's linear smoothing (C. C. Holt, 1957), critically damped; what is held can only fall.
    fn expect(&mut self, expected: f64, above: f64) {
        self.level_blocks = (self.level_blocks + 1.0).min(MEMORY);
        let pace = 1.0 / self.level_blocks;
        self.level = expected + pace * above;
        self.fall = (self.fall + pace * pace / (2.0 - pace) * above).min(0.0);
    }

    /// A rise is under way: is it complete?
    fn follow(&mut self, mut rise: Rise, t: f64, x: f64, block: Block) -> Option<Found> {
        rise.gap |= block.gap;
        rise.clipped |= block.clipped;
        let margin = (2.0 * self.noise)
            .max(0.02 * (rise.top - rise.from))
            .max(0.3 * self.least);
        if x > rise.top {
            if x > rise.marked + margin {
                (rise.marked, rise.top_time) = (x, t);
            }
            rise.top = x;
            (rise.after, rise.after_n) = (0.0, 0.0);
            self.rise = Some(rise);
            return None;
        }
        rise.after += x;
        rise.after_n += 1.0;
        if t - rise.top_time < SETTLE_S && rise.after_n < 12.0 {
            self.rise = Some(rise);
            return None;
        }
        self.rise = None;
        self.complete(rise)
    }

    fn complete(&mut self, rise: Rise) -> Option<Found> {
        // A level that falls at once (hot gas cooling, a leak) was at its highest at the top; one
        // that stays is better known from all its blocks.
        let after = if rise.after_n > 0.0 {
            rise.after / rise.after_n
        } else {
            rise.top
        };
        let blocks = rise.after_n + 1.0;
        let falls =
            rise.top - after > FALLS * self.noise * (1.0 + 1.0 / rise.after_n.max(1.0)).sqrt();
        let (level, standard) = if falls {
            (rise.top, self.noise)
        } else {
            ((rise.after + rise.top) / blocks, self.noise / blocks.sqrt())
        };
        let before = self.noise / rise.from_blocks.sqrt();
        let doubt = (standard * standard + before * before).sqrt();
        let step = level - rise.from;
        (self.level, self.fall, self.level_blocks) = (after, 0.0, 2.0);
        self.lowest = f64::NEG_INFINITY;
        self.gap = false;
        let least = (LEAST_STEPS * self.least).max(LEAST_STEP * level.abs());
        if step < (CONFIRM * doubt).max(least) {
            return None;
        }
        self.highest = self.highest.max(level);
        let since = self.last_step.map(|(last, _)| rise.onset - last);
        let lifts = self.last_step.is_none_or(|(_, before)| level > before);
        let small = !lifts && step < TAIL_SHARE * level;
        let shortest = match self.usual_interval {
            Some(usual) if usual < STEADY_S => (REFRACTORY * usual).max(CLOSEST_S),
            _ => CLOSEST_S,
        };
        let tail = self
            .usual_interval
            .map_or(TAIL_S, |usual| (TAIL_SHARE_OF_INTERVAL * usual).min(TAIL_S));
        if since.is_some_and(|since| since < shortest || (since < tail && small)) {
            return None;
        }
        self.last_step = Some((rise.onset, level));
        if let Some(since) = since {
            let usual = self.usual_interval.get_or_insert(since);
            // The shortest recent interval: a pause must not make the next stroke look like a tail.
            *usual = if since < *usual { since } else { *usual * 1.02 };
        }
        Some(Found {
            time: rise.top_time,
            level,
            standard,
            // How far it had fallen by the time of the first sample, at most one block before.
            bias: if falls {
                LATE * (rise.top - after) / rise.after_n.max(1.0)
            } else {
                0.0
            },
            added: 0.0,
            // How far it falls from one block to the next.
            cut_off: if falls {
                (rise.top - after) / rise.after_n.max(1.0)
            } else {
                0.0
            },
            from: rise.from,
            missing: rise.gap,
            clipped: rise.clipped,
        })
    }
}

#[cfg(test)]
mod tests;
