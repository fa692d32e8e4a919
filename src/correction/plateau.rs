//! Where the pressure stands still.

use crate::units::{Pressure, Time};
use std::collections::VecDeque;

/// Samples are gathered in blocks of this length, in seconds, or of one sample.
const BLOCK_S: f64 = 0.25;
/// A plateau is at least this long, in seconds, …
const LONG_S: f64 = 2.0;
/// … and has at least so many blocks.
const BLOCKS: usize = 5;
/// Blocks that lie further apart than this are no plateau: a share of the level, a pressure in
/// pascal, and a number of steps of the sensor; the largest of the three. Our choice: a tyre pump
/// with a hose that gives keeps within it, a hand that is still pumping does not.
const SHARE: f64 = 0.003;
const PRESSURE_PA: f64 = 500.0;
const STEPS: f64 = 3.0;

/// A pressure that stood still.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plateau {
    /// Its mean.
    pub mean: Pressure,
    /// Standard uncertainty of the mean: noise, resolution, and how far it moved from the first
    /// block to the last.
    pub standard: Pressure,
    /// How far apart pressures may lie to be the same plateau.
    pub tolerance: Pressure,
}

/// Looks for plateaus among samples; keeps the last two seconds.
#[derive(Clone, Debug)]
pub struct Plateaus {
    resolution: f64,
    /// Of each whole block when it began, and its mean.
    blocks: VecDeque<(f64, f64)>,
    /// Of the block in hand when it began, its sum, and its number of samples.
    open: Option<(f64, f64, u32)>,
}

impl Plateaus {
    /// For a sensor that tells differences no smaller than this.
    pub fn new(resolution: Pressure) -> Self {
        Self {
            resolution: resolution.pa().max(0.0),
            blocks: VecDeque::new(),
            open: None,
        }
    }

    /// Forgets all samples: some are missing, or beyond the range.
    pub fn begin_anew(&mut self) {
        self.blocks.clear();
        self.open = None;
    }

    /// Takes the next sample. One whose time does not go on, or that is no number, is passed over.
    pub fn push(&mut self, time: Time, pressure: Pressure) {
        if !(time.is_finite() && pressure.is_finite()) {
            return;
        }
        let (now, pa) = (time.s(), pressure.pa());
        match &mut self.open {
            Some((began, sum, count)) if now - *began < BLOCK_S => {
                *sum += pa;
                *count += 1;
            }
            open => {
                if let Some((began, sum, count)) = open.replace((now, pa, 1)) {
                    self.blocks.push_back((began, sum / f64::from(count)));
                }
                self.forget_what_is_old(now);
            }
        }
    }

    fn forget_what_is_old(&mut self, now: f64) {
        while self.blocks.len() > BLOCKS
            && self
                .blocks
                .get(1)
                .is_some_and(|(began, _)| now - began >= LONG_S)
        {
            self.blocks.pop_front();
        }
    }

    /// The plateau on which the pressure is now, if it is on one.
    pub fn now(&self) -> Option<Plateau> {
        let began = self.blocks.front()?.0;
        let ended = self.open?.0;
        if self.blocks.len() < BLOCKS || ended - began < LONG_S {
            return None;
        }
        let count = self.blocks.len() as f64;
        let means = || self.blocks.iter().map(|(_, mean)| *mean);
        let mean = means().sum::<f64>() / count;
        let lowest = means().fold(f64::INFINITY, f64::min);
        let highest = means().fold(f64::NEG_INFINITY, f64::max);
        let steps = STEPS * self.resolution;
        let tolerance = (SHARE * mean.abs()).max(PRESSURE_PA).max(steps);
        if highest - lowest > tolerance {
            return None;
        }
        let squares: f64 = means().map(|block| (block - mean) * (block - mean)).sum();
        let noise = squares / (count - 1.0) / count;
        // Whoever reads the gauge does so at some moment of it: a rectangle (GUM F.2.2.1).
        let moved = means().next_back()? - means().next()?;
        let rectangles = (moved * moved + self.resolution * self.resolution) / 12.0;
        Some(Plateau {
            mean: Pressure::from_pa(mean),
            standard: Pressure::from_pa((noise + rectangles).sqrt()),
            tolerance: Pressure::from_pa(tolerance),
        })
    }
}
