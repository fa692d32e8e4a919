//! What counts as one step of the build-up: a stroke, or the best stroke of a kick.
//!
//! Cranked steadily, every stroke counts. Kicks and pulls come in bursts: a few compressions
//! whose strength falls off, then a pause. There the best of each burst counts.

use super::build_up::{Bank, Prior, Prospect};
use super::cadence;
use super::curve;
use super::moments::Moments;
use super::results::{Rig, Stroke};

/// An interval this many times the shortest recent one ends a burst, …
const APART: f64 = 2.2;
/// … if it is also longer than this (s).
const APART_S: f64 = 0.45;
/// A stroke below this share of the best recent one was weak: the engine was coasting.
const WEAK: f64 = 0.85;
/// A kick or a pull is over after this long (s); common practice, no source.
const ONE_BURST_S: f64 = 0.55;
/// A burst that goes on for longer (s) is steady cranking; common practice, no source.
const LONG_BURST_S: f64 = 1.3;
/// How many strokes are recent.
const RECENT: usize = 8;
/// Strokes looked back over when the first pause shows that the strokes come in bursts.
const LOOK_BACK: usize = 64;

/// A slow tail may be as large as this share of the level's fall between strokes, …
const TAIL_PER_FALL: f64 = 0.8;
/// … but not less or more than these shares of the level.
const LEAST_TAIL: f64 = 0.001;
const MOST_TAIL: f64 = 0.05;
/// Kicks and pulls scatter by this share of the level (prior): nobody's strength is the same
/// twice.
const BURST_SCATTER: f64 = 0.006;
/// Steady strokes scatter by this share of the change in their intervals (prior).
const UNEVEN_SCATTER: f64 = 0.06;

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
    /// Strokes of the burst in hand only, for the case that it turns out to be steady cranking.
    steady: Bank,
    /// When the burst in hand began.
    since: f64,
    /// When the last stroke was that was not weak.
    strong: f64,
    fallen: Moments,
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
        let bank = Bank::new(Prior::HOLDING);
        Self {
            closed: bank.clone(),
            steady: bank.clone(),
            since: 0.0,
            strong: 0.0,
            bank,
            bursty: false,
            following: false,
            best: None,
            fallen: Moments::default(),
            recent: Vec::new(),
        }
    }

    /// Before the first stroke: how the sensor sits.
    pub(super) fn begin(&mut self, rig: Option<Rig>) {
        self.following = rig == Some(Rig::Following);
        let prior = match rig {
            Some(Rig::Following) => Prior::FOLLOWING,
            _ => Prior::HOLDING,
        };
        self.bank = Bank::new(prior);
        self.closed = self.bank.clone();
        self.steady = self.bank.clone();
    }

    /// How large a slow tail to expect: behind a check valve, gas that cools between strokes (the
    /// held level falls) also warms the hose up slowly; without a fall there is no tail.
    fn expect(&mut self, fallen: f64) {
        if fallen.is_finite() {
            self.fallen.push(fallen, 1.0);
        }
        let slow = if self.following {
            Prior::FOLLOWING.slow
        } else if self.fallen.weight() > 0.0 {
            (TAIL_PER_FALL * self.fallen.mean()).clamp(LEAST_TAIL, MOST_TAIL)
        } else {
            Prior::HOLDING.slow
        };
        let steady = Prior::HOLDING.scatter + UNEVEN_SCATTER * self.unevenness();
        for (bank, scatter) in [
            (
                &mut self.bank,
                if self.bursty { BURST_SCATTER } else { steady },
            ),
            (&mut self.closed, BURST_SCATTER),
            (&mut self.steady, steady),
        ] {
            bank.expect(slow, scatter);
        }
    }

    /// Median change from one interval to the next, as a share of it: strokes made at different
    /// speeds differ in height.
    fn unevenness(&self) -> f64 {
        let intervals: Vec<f64> = self
            .recent
            .windows(2)
            .map(|pair| pair[1].0 - pair[0].0)
            .collect();
        let mut changes: Vec<f64> = intervals
            .windows(2)
            .filter(|pair| pair[0] > 0.0)
            .map(|pair| (pair[1] / pair[0] - 1.0).abs().min(1.0))
            .collect();
        cadence::median(&mut changes).unwrap_or(0.0)
    }

    /// Takes a stroke; `earlier` are all strokes before it. `fallen`: by which share of the level
    /// it had fallen before; not a number where that cannot be told.
    pub(super) fn push(
        &mut self,
        time: f64,
        (level, standard): (f64, f64),
        (steps, trust): (u32, f64),
        fallen: f64,
        earlier: &[Stroke],
    ) {
        let pause = self.pause_before(time);
        if pause && !self.bursty && self.strong - self.since < LONG_BURST_S {
            self.turn_bursty(earlier);
        }
        let highest = self.highest();
        if self.recent.is_empty() || pause {
            self.since = time;
        }
        if self.recent.len() == RECENT {
            self.recent.remove(0);
        }
        self.recent.push((time, level));
        self.expect(fallen);
        let weak = level < WEAK * highest;
        if !weak {
            self.strong = time;
        }
        let step = Step {
            level,
            standard,
            steps,
            trust,
        };
        if self.bursty {
            self.within_burst(time, pause, weak, step);
        } else if !weak {
            if self.following && level * WEAK > highest {
                // Cranking began in the middle of a compression: the strokes before were weak.
                self.bank = self.bank.renew();
            }
            self.bank.push(level, standard, steps, trust);
        }
    }

    /// One burst is one step, however many strokes it has, unless it goes on for too long to be
    /// a kick or a pull.
    fn within_burst(&mut self, time: f64, pause: bool, weak: bool, step: Step) {
        if pause {
            self.close();
            self.steady = self.steady.renew();
        }
        if weak {
            return;
        }
        self.steady
            .push(step.level, step.standard, step.steps, step.trust);
        if time - self.since >= LONG_BURST_S {
            self.bursty = false;
            self.bank = self.steady.clone();
        } else if self.best.is_none_or(|best| step.level > best.level) {
            let step = Step { steps: 1, ..step };
            self.best = Some(step);
            self.bank = self.closed.clone();
            self.bank.push(step.level, step.standard, 1, step.trust);
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
        self.closed = self.bank.renew();
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

    /// The steps that the build-up rests on, for the curve that is shown.
    pub(super) fn curve(&self) -> &[curve::Step] {
        self.bank.curve()
    }

    /// What the strokes say.
    pub(super) fn prospect(&self) -> Option<Prospect> {
        self.bank.prospect()
    }
}
