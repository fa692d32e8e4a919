//! A rest between two runs: nothing is asked for until the user goes on.

use super::output::Entry;
use super::prompt::Tone;
use super::state::{Session, Stage};

impl Session {
    /// Rests, or goes on. A run that has begun is made or given up first: who rests in the middle of
    /// one would leave pressure on the tester, and a needle that stands for want of cranking.
    pub(super) fn pause(&mut self) {
        if !self.resting && !self.may_rest() {
            return self.warn("Not in the middle of a run: bleed first, then pause.");
        }
        self.resting = !self.resting;
        let mark = if self.resting { "paused" } else { "goes on" };
        self.record(Entry::Mark(mark.to_owned()));
        let next = self.view().next;
        self.say(next);
        self.speak();
    }

    /// Whether the user rests.
    pub fn is_resting(&self) -> bool {
        self.resting && self.may_rest()
    }

    /// Whether this is a moment to rest.
    pub fn may_rest(&self) -> bool {
        matches!(
            self.stage,
            Stage::Zero | Stage::Ready | Stage::Offer | Stage::Naming
        )
    }

    pub(super) fn resting_words(&self) -> (Tone, &'static str, String) {
        let how = self.key(" p: go on.");
        let next = format!("Paused. Leave the engine alone.{how}");
        (Tone::Calm, "PAUSE", next)
    }
}
