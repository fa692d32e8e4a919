//! What counts as one step of the build-up: a stroke, or the best stroke of a kick.
//!
//! Cranked steadily, every stroke counts. Kicks and pulls come in bursts: a few compressions
//! whose strength falls off, then a pause. There the best of each burst counts.

use super::build_up::{Bank, Prospect, Reach};
use super::results::{Rig, Stroke};

/// An interval this many times the shortest recent one ends a burst, …
const APART: f64 = 2.2;
/// … if it is also longer than this (s).
const APART_S: f64 = 0.45;
/// A stroke below this share of the best recent one was weak: the engine was coasting.
const WEAK: f64 = 0.85;
/// A kick or a pull is over after this long (s); common practice, no source.
const ONE_BURST_S: f64 = 0.8;
/// How many strokes are recent.
const RECENT: usize = 8;
/// Strokes looked back over when the first pause shows that the strokes come in bursts.
const LOOK_BACK: usize = 64;

/// Feeds the bank with steady strokes or with the best of each burst.
#[derive(Clone, Debug)]
pub(super) struct Bursts {
    /// Everything before the step that is still open.
    closed: Bank,
    /// With the open step.
    bank: Bank,
    bursty: bool,
    following: bool,
    best: Option<Step>,
    /// The last strokes: time and level.
    recent: Vec<(f64, f64)>,
}

#[derive(Clone, Copy, Debug)]
struct Step {
    level: f64,
    standard: f64,
    steps: u32,
    trust: f64,
}

impl Bursts {
    pub(super) fn new() -> Self {
        let bank = Bank::new(Reach::HOLDING);
        Self {
            closed: bank.clone(),
            bank,
            bursty: false,
            following: false,
            best: None,
            recent: Vec::new(),
        }
    }

    /// Before the first stroke: how the sensor sits.
    pub(super) fn begin(&mut self, rig: Option<Rig>) {
        self.following = rig == Some(Rig::Following);
        let reach = match rig {
            Some(Rig::Following) => Reach::FOLLOWING,
            _ => Reach::HOLDING,
        };
        self.bank = Bank::new(reach);
        self.closed = self.bank.clone();
    }

    /// Takes a stroke; `earlier` are all strokes before it.
    pub(super) fn push(
        &mut self,
        time: f64,
        (level, standard): (f64, f64),
        (steps, trust): (u32, f64),
        earlier: &[Stroke],
    ) {
        let pause = self.pause_before(time);
        if pause && !self.bursty {
            self.turn_bursty(earlier);
        }
        let weak = level < WEAK * self.highest();
        let jump = self.following && level * WEAK > self.highest();
        if self.recent.len() == RECENT {
            self.recent.remove(0);
        }
        self.recent.push((time, level));
        let step = Step {
            level,
            standard,
            steps,
            trust,
        };
        if !self.bursty {
            if !weak {
                if jump {
                    // Cranking began in the middle of a compression: the strokes before were weak.
                    self.bank = self.bank.renew();
                }
                self.bank.push(level, standard, steps, trust);
            }
            return;
        }
        if pause {
            self.close();
        }
        // One burst is one step, however many strokes it has.
        let step = Step { steps: 1, ..step };
        if !weak && self.best.is_none_or(|best| level > best.level) {
            self.best = Some(step);
            self.bank = self.closed.clone();
            self.bank.push(level, standard, 1, trust);
        }
    }

    fn close(&mut self) {
        if let Some(best) = self.best.take() {
            self.closed
                .push(best.level, best.standard, best.steps, best.trust);
        }
    }

    /// The strokes so far were the first burst, or a few.
    fn turn_bursty(&mut self, earlier: &[Stroke]) {
        self.bursty = true;
        self.closed = self.bank.for_bursts();
        self.best = None;
        let from = earlier.len().saturating_sub(LOOK_BACK);
        let mut shortest = f64::INFINITY;
        for stroke in earlier.get(from..).unwrap_or_default() {
            if let Some(interval) = stroke.interval {
                let interval = interval.s();
                if interval > APART_S && interval > APART * shortest {
                    self.close();
                }
                shortest = shortest.min(interval);
            }
            let level = stroke.peak.pa();
            if self.best.is_none_or(|best| level > best.level) {
                self.best = Some(Step {
                    level,
                    standard: 0.0,
                    steps: 1,
                    trust: 1.0,
                });
            }
        }
    }

    /// Whether nobody cranked before the stroke at `time`.
    fn pause_before(&self, time: f64) -> bool {
        let Some((last, _)) = self.recent.last() else {
            return false;
        };
        let shortest = self
            .recent
            .windows(2)
            .map(|pair| pair[1].0 - pair[0].0)
            .fold(f64::INFINITY, f64::min);
        let interval = time - last;
        interval > APART_S && shortest.is_finite() && interval > APART * shortest
    }

    /// The highest of the recent strokes.
    fn highest(&self) -> f64 {
        let levels = self.recent.iter().map(|(_, level)| *level);
        levels.fold(0.0, f64::max)
    }

    /// Whether it is clear by now that this is not the first kick or pull of several: steady
    /// cranking goes on for longer.
    pub(super) fn told_apart(&self, first: f64, now: f64) -> bool {
        self.bursty || now - first >= ONE_BURST_S
    }

    /// Steps that the build-up rests on.
    pub(super) fn steps(&self) -> u32 {
        self.bank.strokes()
    }

    /// What the strokes say.
    pub(super) fn prospect(&self) -> Option<Prospect> {
        self.bank.prospect()
    }
}
