//! Taking back what the last key changed. It can be taken back until the run that it was about is
//! bled, or until the next run's first stroke.

use super::output::Entry;
use super::state::{GivenUp, InHand, Session, Stage, Undo};

impl Session {
    /// Keeps how it is, before a key changes something. `did` says what it does.
    pub(super) fn before(&mut self, did: impl Into<String>) {
        let did = did.into();
        let begun = self.current.as_ref().filter(|c| c.strokes > 0);
        if let Some(undo) = self.undo.as_mut()
            && begun.is_some_and(|current| current.given_up.is_some())
        {
            // It is given up already, and counts again when that is taken back.
            undo.did = did;
            return;
        }
        let waiting = self.current.as_ref().filter(|c| c.strokes == 0);
        self.undo = Some(Undo {
            did,
            in_hand: begun.map(|current| InHand {
                stage: self.stage,
                given_up: current.given_up,
                troubles: current.troubles.clone(),
            }),
            plan: self.plan.clone(),
            waiting: waiting.map(|current| current.planned.clone()),
            oil_is_in: waiting.is_some_and(|current| current.oil_is_in),
            states: self.made.iter().map(|made| made.state.clone()).collect(),
            oil_proposed: self.oil_proposed,
            oil_refused: self.oil_refused,
            worth_oil: self.worth_oil.clone(),
        });
    }

    /// Whether the last key changed something that can be taken back.
    pub fn can_undo(&self) -> bool {
        self.undo.is_some() || self.is_resting()
    }

    /// What the last key did, as long as it can be taken back.
    pub(super) fn did(&self) -> Option<String> {
        let undo = self.undo.as_ref()?;
        Some(format!("{} Undo: u.", undo.did))
    }

    pub(super) fn take_back(&mut self) {
        if self.is_resting() {
            return self.pause();
        }
        let Some(before) = self.undo.take() else {
            return self.warn("Nothing to undo.");
        };
        self.record(Entry::Mark(format!("taken back: {}", before.did)));
        match before.in_hand.clone() {
            Some(was) => self.take_back_in_hand(was),
            None => self.take_back_plan(before),
        }
        self.warn("Undone.");
    }

    fn take_back_in_hand(&mut self, was: InHand) {
        let Some(current) = self.current.as_mut() else {
            return;
        };
        current.given_up = was.given_up;
        current.troubles = was.troubles;
        // It may have settled, or climbed again, in the meantime.
        let settled = current.settled.is_some();
        let stage = match was.stage {
            Stage::Climbing if settled && self.follows() => Stage::Bleed,
            Stage::Climbing if settled => Stage::Hold,
            Stage::Hold if !settled => Stage::Climbing,
            stage => stage,
        };
        if self.stage != stage {
            self.enter(stage);
        }
    }

    fn take_back_plan(&mut self, before: Undo) {
        for (made, state) in self.made.iter_mut().zip(before.states) {
            made.state = state;
        }
        self.plan = before.plan;
        self.oil_proposed = before.oil_proposed;
        self.oil_refused = before.oil_refused;
        self.worth_oil = before.worth_oil;
        let now = self.current.as_ref().map(|current| &current.planned);
        if now == before.waiting.as_ref() {
            if let Some(current) = self.current.as_mut() {
                current.oil_is_in = before.oil_is_in;
            }
            return;
        }
        if let Some(waiting) = before.waiting {
            self.plan.put_back(waiting);
        }
        let offered = matches!(self.stage, Stage::Ready | Stage::Offer);
        if self.current.is_some() {
            self.leave_out(GivenUp::Skipped);
        } else if offered {
            self.next_run();
        }
    }
}
