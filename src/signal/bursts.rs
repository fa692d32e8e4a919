//! What counts as one step of the build-up: a stroke, or the best stroke of a kick.
//!
//! Cranked steadily, every stroke counts. Kicks and pulls come in bursts: a few compressions
//! whose strength falls off, then a pause. There the best of each burst counts.

use super::build_up::Prospect;
use super::cadence;
use super::curve;
use super::fit::{Fit, Step};
use super::results::Rig;

/// An interval this many times the shortest recent one ends a burst, …
const APART: f64 = 2.2;
/// … if it is also longer than this (s).
const APART_S: f64 = 0.62;
/// A stroke below this share of the best recent one was weak: the engine was coasting.
const WEAK: f64 = 0.85;
/// A kick or a pull is over after this long (s); common practice, no source.
const ONE_BURST_S: f64 = 0.55;
/// Strokes this far apart (s) are none of one kick or pull; common practice, no source.
const UNHURRIED_S: f64 = 0.23;
/// A hand crank's strokes are this far apart (s) or further; common practice, no source.
const HAND_S: f64 = 0.6;
/// A starter's intervals change by less than this share from one to the next (median).
const EVEN: f64 = 0.04;
/// Strokes this far apart (s) are hardly those of a kick or a pull, nor yet those of a hand crank:
/// a starter turns the engine; common practice, no source.
const STARTER_S: std::ops::Range<f64> = 0.3..HAND_S;
/// A burst that goes on for longer (s) is steady cranking; common practice, no source.
const LONG_BURST_S: f64 = 1.3;
/// Strokes are as high as each other when they differ by no more than this share, …
const SAME_HEIGHT: f64 = 0.05;
/// … and as fast when an interval is no longer than this multiple of the one before.
const SAME_PACE: f64 = 1.25;
/// How many strokes are recent.
const RECENT: usize = 8;
/// Strokes looked back over when the first pause shows that the strokes come in bursts.
const LOOK_BACK: usize = 64;

/// Steady strokes scatter by this share of the level (prior), …
pub(super) const STEADY_SCATTER: f64 = 0.0008;
/// … and by this share of the change in their intervals.
const UNEVEN_SCATTER: f64 = 0.06;
/// Strokes made by hand scatter by this share of the level (prior): nobody's strength is the same
/// twice. Without a check valve …
const HAND_SCATTER: f64 = 0.003;
/// … and behind one, where a strong stroke stays.
const HAND_SCATTER_HELD: f64 = 0.004;
/// Kicks and pulls scatter by this share of the level (prior).
const BURST_SCATTER: f64 = 0.006;

/// Who turns the engine, as far as the strokes show it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Turned {
    /// Strokes follow each other as a starter makes them.
    ByStarter,
    /// Strokes are as far apart as those of a hand crank.
    ByHand,
    /// Kicks or pulls, with pauses between them.
    InBursts,
}

/// Feeds the bank with steady strokes or with the best of each burst.
#[derive(Clone, Debug)]
pub(super) struct Bursts {
    /// Everything before the step that is still open.
    closed: Fit,
    /// With the open step.
    bank: Fit,
    bursty: bool,
    following: bool,
    best: Option<Step>,
    /// The best of the burst in hand is in the bank.
    counted: bool,
    /// Strokes of the burst in hand only, for the case that it turns out to be steady cranking.
    steady: Fit,
    /// When the burst in hand began.
    since: f64,
    /// When the last stroke was that was not weak.
    strong: f64,
    /// The last strokes: time and level.
    recent: Vec<(f64, f64)>,
    /// Time and step of all strokes until they are known to come in bursts, the last ones.
    earlier: Vec<(f64, Step)>,
}

impl Bursts {
    pub(super) fn new() -> Self {
        let bank = Fit::new(None);
        Self {
            closed: bank.clone(),
            steady: bank.clone(),
            since: 0.0,
            strong: 0.0,
            bank,
            bursty: false,
            following: false,
            best: None,
            counted: false,
            recent: Vec::new(),
            earlier: Vec::new(),
        }
    }

    /// Before the first stroke: how the sensor sits.
    pub(super) fn begin(&mut self, rig: Option<Rig>) {
        self.following = rig == Some(Rig::Following);
        self.bank = Fit::new(rig);
        self.closed = self.bank.clone();
        self.steady = self.bank.clone();
    }

    fn expect(&mut self) {
        let (steadily, scatter) = (self.steadily(), self.steady_scatter());
        if self.bursty {
            self.bank.expect(Turned::InBursts, BURST_SCATTER);
        } else {
            self.bank.expect(steadily, scatter);
        }
        self.closed.expect(Turned::InBursts, BURST_SCATTER);
        self.steady.expect(steadily, scatter);
    }

    /// Who turns the engine.
    pub(super) fn turned(&self) -> Turned {
        if self.bursty {
            Turned::InBursts
        } else {
            self.steadily()
        }
    }

    /// Who turns it, if these are not kicks or pulls.
    fn steadily(&self) -> Turned {
        let quick = self.interval().is_some_and(|interval| interval < HAND_S);
        if quick && self.unevenness() < EVEN {
            Turned::ByStarter
        } else {
            Turned::ByHand
        }
    }

    /// Time between the last two strokes (s).
    fn interval(&self) -> Option<f64> {
        let pair = self.recent.windows(2).last()?;
        Some(pair[1].0 - pair[0].0)
    }

    /// What strokes scatter that are no kicks or pulls.
    fn steady_scatter(&self) -> f64 {
        let uneven = STEADY_SCATTER + UNEVEN_SCATTER * self.unevenness();
        match (self.steadily(), self.following) {
            (Turned::ByHand, true) => libm::hypot(HAND_SCATTER, uneven),
            (Turned::ByHand, false) => libm::hypot(HAND_SCATTER_HELD, uneven),
            _ => uneven,
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

    /// Takes a stroke; says whether there is something new to look at.
    pub(super) fn push(&mut self, time: f64, step: Step) -> bool {
        let level = step.lift.to;
        let pause = self.pause_before(time);
        if pause && !self.bursty && self.strong - self.since < LONG_BURST_S {
            self.turn_bursty();
        }
        let highest = self.highest();
        if self.recent.is_empty() || pause {
            self.since = time;
        }
        if self.recent.len() == RECENT {
            self.recent.remove(0);
        }
        self.recent.push((time, level));
        self.expect();
        if !self.bursty {
            if self.earlier.len() == LOOK_BACK {
                self.earlier.remove(0);
            }
            self.earlier.push((time, step));
        }
        let mut weak = level < WEAK * highest;
        if weak && self.following && !self.bursty && self.low_again() {
            // What was higher was the odd one: a first stroke with the manifold still full.
            self.recent.drain(..self.recent.len() - 2);
            self.bank = self.bank.renew();
            weak = false;
        }
        if !weak {
            self.strong = time;
        }
        if self.bursty {
            return self.within_burst(time, pause, weak, step);
        }
        if !weak {
            if self.following && level * WEAK > highest {
                // Cranking began in the middle of a compression: the strokes before were weak.
                self.bank = self.bank.renew();
            }
            self.bank.push(&step);
        }
        !weak
    }

    /// One burst is one step, however many strokes it has, unless it goes on for too long to be
    /// a kick or a pull. Says whether there is something new to look at.
    fn within_burst(&mut self, time: f64, pause: bool, weak: bool, step: Step) -> bool {
        if pause {
            self.close();
            self.steady = self.steady.renew();
        }
        if let Some(best) = self.best.filter(|best| step.lift.to <= best.lift.to) {
            // The best of this burst has passed.
            if !weak {
                self.steady.push(&step);
            }
            return !std::mem::replace(&mut self.counted, true) && self.count(&best);
        }
        if weak {
            return false;
        }
        self.steady.push(&step);
        if time - self.since >= LONG_BURST_S {
            self.bursty = false;
            self.bank = self.steady.clone();
            return true;
        }
        let step = Step { strokes: 1, ..step };
        self.best = Some(step);
        self.counted = self.worthy(&step);
        self.counted && self.count(&step)
    }

    /// The bank is that of all bursts before, and the best stroke of this one.
    fn count(&mut self, best: &Step) -> bool {
        self.bank = self.closed.clone();
        self.bank.push(best);
        true
    }

    /// Whether the burst in hand can count already: its best may be yet to come.
    fn worthy(&self, step: &Step) -> bool {
        self.closed
            .prospect()
            .is_none_or(|closed| step.lift.to > closed.plateau)
    }

    /// Cranking is over: the burst in hand counts as it is.
    pub(super) fn finish(&mut self) {
        if let (true, false, Some(best)) = (self.bursty, self.counted, self.best) {
            self.count(&best);
        }
    }

    fn close(&mut self) {
        self.counted = false;
        if let Some(best) = self.best.take() {
            self.closed.push(&best);
        }
    }

    /// The strokes so far were the first burst, or a few.
    fn turn_bursty(&mut self) {
        self.bursty = true;
        self.closed = if self.following {
            self.bank.renew()
        } else {
            Fit::tops()
        };
        self.closed.expect(Turned::InBursts, BURST_SCATTER);
        self.best = None;
        let (mut shortest, mut before) = (f64::INFINITY, None);
        for (time, step) in std::mem::take(&mut self.earlier) {
            if let Some(before) = before.replace(time) {
                let interval = time - before;
                if interval > APART_S && interval > APART * shortest {
                    self.close();
                }
                shortest = shortest.min(interval);
            }
            if self.best.is_none_or(|best| step.lift.to > best.lift.to) {
                self.best = Some(Step { strokes: 1, ..step });
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

    /// Whether the last two strokes are as high as each other, and came as fast as those before:
    /// an engine that coasts makes neither.
    fn low_again(&self) -> bool {
        let [.., first, second, third] = self.recent.as_slice() else {
            return false;
        };
        let (before, now) = (second.0 - first.0, third.0 - second.0);
        (third.1 - second.1).abs() < SAME_HEIGHT * third.1 && now < SAME_PACE * before
    }

    /// The highest of the recent strokes.
    fn highest(&self) -> f64 {
        let levels = self.recent.iter().map(|(_, level)| *level);
        levels.fold(0.0, f64::max)
    }

    /// Whether it is clear by now that this is not the first kick or pull of several: steady
    /// cranking goes on for longer.
    pub(super) fn told_apart(&self, first: f64, now: f64) -> bool {
        let unhurried = self.interval().is_some_and(|apart| apart >= UNHURRIED_S);
        self.bursty || now - first >= ONE_BURST_S || unhurried
    }

    /// Whether the last two strokes came as only a starter makes them: too far apart for one kick
    /// or pull, too close for a hand crank.
    pub(super) fn surely_by_starter(&self) -> bool {
        let apart = self.interval();
        !self.bursty && apart.is_some_and(|apart| STARTER_S.contains(&apart))
    }

    /// Steps that the build-up rests on.
    pub(super) fn steps(&self) -> u32 {
        self.bank.steps()
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
