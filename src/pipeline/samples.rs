//! Every sample of a run, kept with it where that is asked for.

use super::findings::Samples;
use crate::signal::{RunResult, Sample};
use crate::units::{Pressure, Time};

/// Samples that are kept with the runs of a recording, so that the findings stay a file that can be
/// read at once: about 30 MB, an hour at 100 Hz.
pub(super) const MOST_SAMPLES: usize = 400_000;

/// Holds samples for as long as it is not known which of them belong to a run.
#[derive(Clone, Debug, Default)]
pub(super) struct Collector {
    wanted: bool,
    /// Since the last run ended, as read.
    held: Vec<(Time, Pressure)>,
    /// How many are kept with the runs so far.
    kept: usize,
    /// There were more than are kept: no run has any from here on.
    pub(super) full: bool,
}

impl Collector {
    pub(super) fn new(wanted: bool) -> Self {
        Self {
            wanted,
            ..Self::default()
        }
    }

    pub(super) fn push_all(&mut self, samples: &[Sample]) {
        if !self.wanted || self.full {
            return;
        }
        if self.kept + self.held.len() + samples.len() > MOST_SAMPLES {
            self.full = true;
            self.held = Vec::new();
            return;
        }
        let finite = |s: &&Sample| s.time.is_finite() && s.pressure.is_finite();
        let finite = samples.iter().filter(finite);
        self.held.extend(finite.map(|s| (s.time, s.pressure)));
    }

    /// Those held are of no run.
    pub(super) fn drop_held(&mut self) {
        self.held.clear();
    }

    /// Those of the run that has just ended, its zero subtracted; none where none are wanted.
    pub(super) fn take(&mut self, result: &RunResult) -> Option<Samples> {
        let held = std::mem::take(&mut self.held);
        if !self.wanted || self.full {
            return None;
        }
        let within = |time: Time| result.started <= time && time <= result.ended;
        let of_run = held.into_iter().filter(|(time, _)| within(*time));
        let zeroed = of_run.map(|(time, raw)| (time, raw - result.zero.level));
        let (times, pressures): (Vec<Time>, Vec<Pressure>) = zeroed.unzip();
        Some(Samples { times, pressures })
    }

    /// These are kept with a run.
    pub(super) fn count(&mut self, kept: Option<&Samples>) {
        self.kept += kept.map_or(0, |samples| samples.times.len());
    }
}
