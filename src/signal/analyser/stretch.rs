//! The quick way for samples with which nothing happens, which is most of them: a few are looked
//! at together. It leaves the analyser exactly as taking them one by one would.

use super::super::build_up::cadence;
use super::super::results::Rig;
use super::super::settings::{Event, Sample};
use super::cranking::{Cranking, Phase, Seen};
use super::{Analyser, BLED, FOLLOWING_RUN_GAP_S};

/// Samples in a row that are sound, whole and not clipped: what they lie between, and when the
/// last one is.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    lowest: f64,
    highest: f64,
    last: f64,
}

impl Stretch {
    /// None if one of the samples has to be looked at by itself. `after` is the time of the sample
    /// before, `limit` the largest pressure that can be.
    fn of(samples: &[Sample], after: f64, limit: f64) -> Option<Self> {
        let mut stretch = Self {
            lowest: f64::INFINITY,
            highest: f64::NEG_INFINITY,
            last: after,
        };
        let mut sound = true;
        for sample in samples {
            let (t, p) = (sample.time.s(), sample.pressure.pa());
            sound &= t >= stretch.last && p.abs() <= limit;
            sound &= !sample.clipped && !sample.gap_before;
            stretch.lowest = if p < stretch.lowest {
                p
            } else {
                stretch.lowest
            };
            stretch.highest = if p > stretch.highest {
                p
            } else {
                stretch.highest
            };
            stretch.last = t;
        }
        (sound && stretch.last.is_finite()).then_some(stretch)
    }
}

impl Analyser {
    /// Takes samples from the front, up to the first that brings something; gives how many. None if
    /// one has to be looked at by itself, or if time alone might bring something.
    pub(super) fn pass_over(&mut self, samples: &[Sample], events: &mut Vec<Event>) -> usize {
        let (after, limit) = (self.screen.last_s, self.screen.limit_pa);
        let (Phase::Cranking(_), Some(rig), true) = (&self.phase, self.rig, self.period.is_known())
        else {
            return 0;
        };
        let Some(stretch) = Stretch::of(samples, after, limit) else {
            return 0;
        };
        if !self.nothing_due(rig, stretch) {
            return 0;
        }
        let (zero, sought) = (self.zero.level.pa(), self.settings.rig.is_none());
        let Phase::Cranking(cranking) = &mut self.phase else {
            return 0;
        };
        let points = samples
            .iter()
            .map(|sample| (sample.time.s(), sample.pressure.pa() - zero));
        let levels = (stretch.lowest - zero, stretch.highest - zero);
        let (taken, seen) = if cranking.stays_down(rig, sought, levels) {
            cranking.pass_over(points, levels);
            (samples.len(), Seen::default())
        } else {
            cranking.look_at_all(points, rig, sought)
        };
        let Some(last) = samples.get(..taken).and_then(<[Sample]>::last) else {
            return 0;
        };
        let (t, raw) = (last.time.s(), last.pressure.pa());
        self.screen.last_s = t;
        self.run.ended = t;
        if !seen.is_nothing() {
            self.act(seen, events);
            self.afterwards(t, raw - zero, events);
        }
        self.before = Some((t, raw));
        taken
    }

    /// Whether nothing can come of the stretch but what a single sample shows.
    fn nothing_due(&self, rig: Rig, stretch: Stretch) -> bool {
        let Phase::Cranking(cranking) = &self.phase else {
            return false;
        };
        let Some(last_stroke) = cranking.last_stroke else {
            return false;
        };
        let low = stretch.lowest - self.zero.level.pa();
        let quiet = stretch.last - last_stroke;
        let pause_told = self.paused || self.run.settled();
        let goes_on = match rig {
            Rig::Following => self.run.explicit || quiet <= FOLLOWING_RUN_GAP_S,
            Rig::Holding => low >= BLED * cranking.holding.highest(),
        };
        goes_on
            && stretch.last < self.run.next_look
            && !self.at_the_end(stretch.highest)
            && (pause_told || quiet <= cadence::pause_after(self.run.usual_interval()))
    }
}

impl Cranking {
    /// Whether samples between these levels only lie between two strokes of a following rig.
    fn stays_down(&self, rig: Rig, sought: bool, (low, high): (f64, f64)) -> bool {
        rig == Rig::Following
            && self.following.stays_down(low, high)
            && (!sought || self.finder.stays(low, high))
    }

    /// Takes samples with which it [stays so](Self::stays_down).
    fn pass_over(&mut self, points: impl Iterator<Item = (f64, f64)>, (low, high): (f64, f64)) {
        self.finder.pass_over(high);
        self.following.pass_over(points, low);
    }

    /// Takes samples up to the first that shows something; gives how many, and what it shows.
    fn look_at_all(
        &mut self,
        points: impl Iterator<Item = (f64, f64)>,
        rig: Rig,
        sought: bool,
    ) -> (usize, Seen) {
        let mut taken = 0;
        for (t, x) in points {
            taken += 1;
            let stroke = match rig {
                Rig::Following => self.following.push(t, x, false, false),
                Rig::Holding => self.holding.push(t, x, false, false),
            };
            let other_rig = self.other_rig(Some(rig), sought, t, x);
            if stroke.is_some() || other_rig.is_some() {
                return (taken, Seen { stroke, other_rig });
            }
            if rig == Rig::Holding {
                self.droop.push(t, x);
            }
        }
        (taken, Seen::default())
    }
}

#[cfg(test)]
mod tests;
