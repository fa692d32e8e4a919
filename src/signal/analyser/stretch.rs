//! The quick way for samples with which nothing happens, which is most of them: a few are looked
//! at together. It leaves the analyser exactly as taking them one by one would.

use super::super::cadence;
use super::super::results::Rig;
use super::super::settings::{Event, Sample};
use super::{Analyser, BLED, FOLLOWING_RUN_GAP_S, Stage};

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
    /// Takes samples from the front while nothing happens, and on a holding rig the one that
    /// completes a stroke; gives how many. None if any of them might bring anything else.
    pub(super) fn pass_over(&mut self, samples: &[Sample], events: &mut Vec<Event>) -> usize {
        let (after, limit) = (self.screen.last_s, self.screen.limit_pa);
        let (Stage::Cranking(_), Some(rig), true) = (&self.stage, self.rig, self.period.is_known())
        else {
            return 0;
        };
        let Some(stretch) = Stretch::of(samples, after, limit) else {
            return 0;
        };
        if !self.nothing_due(rig, stretch) {
            return 0;
        }
        let zero = self.zero.level.pa();
        let (low, high) = (stretch.lowest - zero, stretch.highest - zero);
        let Stage::Cranking(cranking) = &mut self.stage else {
            return 0;
        };
        if self.settings.rig.is_none() {
            cranking.finder.pass_over(high);
        }
        let mut points = samples
            .iter()
            .map(|sample| (sample.time.s(), sample.pressure.pa() - zero));
        let found = match rig {
            Rig::Following => {
                cranking.following.pass_over(points.by_ref(), low);
                None
            }
            Rig::Holding => points.find_map(|(t, x)| {
                let found = cranking.holding.push(t, x, false, false);
                if found.is_none() {
                    cranking.droop.push(t, x);
                }
                found
            }),
        };
        let taken = samples.len() - points.len();
        let Some(last) = samples.get(..taken).and_then(<[Sample]>::last) else {
            return 0;
        };
        let (t, raw) = (last.time.s(), last.pressure.pa());
        self.screen.last_s = t;
        self.run.ended = t;
        if let Some(found) = found {
            self.stroke(&found, events);
            self.afterwards(t, raw - zero, events);
        }
        self.before = Some((t, raw));
        taken
    }

    /// Whether nothing can come of the stretch but strokes of a holding rig.
    fn nothing_due(&self, rig: Rig, stretch: Stretch) -> bool {
        let Stage::Cranking(cranking) = &self.stage else {
            return false;
        };
        let Some(last_stroke) = cranking.last_stroke else {
            return false;
        };
        let zero = self.zero.level.pa();
        let (low, high) = (stretch.lowest - zero, stretch.highest - zero);
        let quiet = stretch.last - last_stroke;
        let pause_told = self.paused || self.run.settled();
        let longest = cadence::pause_after(self.run.usual_interval());
        let stays = match rig {
            Rig::Following => {
                cranking.following.stays_down(low, high)
                    && (self.run.explicit || quiet <= FOLLOWING_RUN_GAP_S)
            }
            Rig::Holding => low >= BLED * cranking.holding.highest(),
        };
        stays
            && !self.at_the_end(stretch.highest)
            && (pause_told || quiet <= longest)
            && (self.settings.rig.is_some() || cranking.finder.stays(low, high))
    }
}
