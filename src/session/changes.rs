//! What the user may change: leave out, make again, name, another round, the end; and what is put
//! before other runs for it.

use super::output::{Announcement, Entry};
use super::plan::{Planned, place};
use super::state::{GivenUp, MadeRun, RunState, Session, Stage};
use super::words::sentence;
use crate::engine::Condition;

impl Session {
    /// The run made last is offered again, before anything else.
    pub(super) fn offer_last_again(&mut self, why: &str) {
        let Some(last) = self.made.last_mut() else {
            return;
        };
        if last.state != RunState::Good {
            return;
        }
        last.state = RunState::Wrong(why.to_owned());
        let again = Planned {
            cylinder: last.cylinder.clone(),
            named: last.named,
            condition: last.condition,
            why: Some(why.to_owned()),
            instead_of: Some(last.index),
        };
        let wet = again.condition == Condition::Wet;
        if self.setup.replay || wet || !self.offers_left(&again) {
            return;
        }
        self.announce(Announcement::Again);
        self.put_before(again);
    }

    /// Makes `planned` the next run, before the one that waits for its first stroke.
    fn put_before(&mut self, planned: Planned) {
        self.plan.add_first(planned);
        match self.stage {
            Stage::Ready => self.give_up(GivenUp::PutOff),
            Stage::Offer => self.next_run(),
            _ => {}
        }
    }

    pub(super) fn skip(&mut self) {
        match self.stage {
            Stage::Ready | Stage::Climbing | Stage::Hold | Stage::Bleed
                if self.current.is_some() =>
            {
                let of = self.current().map(|p| sentence(&place(&p.cylinder)));
                self.before(format!("{} is left out.", of.unwrap_or_default()));
                self.give_up(GivenUp::Skipped);
                self.say_what_was_done();
            }
            Stage::Naming => self.leave_unnamed(),
            _ => self.warn("Nothing to leave out here."),
        }
    }

    pub(super) fn redo(&mut self) {
        match self.stage {
            Stage::Climbing | Stage::Hold | Stage::Bleed if self.current.is_some() => {
                self.before("This run will not count: it is made again.");
                self.give_up(GivenUp::Again);
                self.say_what_was_done();
            }
            Stage::Ready | Stage::Offer | Stage::Bleed => {
                let last = self.made.iter().rev();
                let Some(last) = last.clone().find(|m| !matches!(m.state, RunState::Void(_)))
                else {
                    return self.warn("No run to make again yet.");
                };
                let again = Planned {
                    cylinder: last.cylinder.clone(),
                    named: last.named,
                    condition: last.condition,
                    why: Some("asked for".to_owned()),
                    instead_of: Some(last.index),
                };
                let of = sentence(&place(&again.cylinder));
                self.before(format!("{of} is made again."));
                self.put_before(again);
                self.say_what_was_done();
            }
            _ => self.warn("No run to make again yet."),
        }
    }

    /// Ends the run being made, without a reading that counts.
    fn give_up(&mut self, how: GivenUp) {
        let Some(current) = self.current.as_mut() else {
            return;
        };
        if current.strokes == 0 {
            return self.leave_out(how);
        }
        current.given_up = Some(how);
        if self.stage == Stage::Bleed {
            self.speak();
        } else {
            self.enter(Stage::Bleed);
        }
    }

    /// The run that waits for its first stroke is not made.
    pub(super) fn leave_out(&mut self, how: GivenUp) {
        let Some(planned) = self.withdraw(how) else {
            return;
        };
        if how == GivenUp::PutOff {
            self.plan_after_next(planned);
        }
        self.next_run();
    }

    /// Takes back that a run was asked for, as if it had not been; gives it. One that was to be wet
    /// stays in the recording as one that does not count, for its oil may be in: its end comes as
    /// that of any run.
    pub(super) fn withdraw(&mut self, how: GivenUp) -> Option<Planned> {
        let current = self.current.as_mut()?;
        if current.planned.condition == Condition::Wet {
            current.given_up = Some(how);
            current.end_asked = true;
            self.record(Entry::End);
            return None;
        }
        let planned = self.current.take()?.planned;
        self.record(Entry::Void {
            run: self.made.len(),
            reason: "not made".to_owned(),
        });
        Some(planned)
    }

    /// The user goes. What has strokes is in the recording as far as it came.
    pub(super) fn leaving(&mut self) {
        if self.air.take().is_some_and(|air| air.steps.is_under_way()) {
            self.say("Regulator to zero, let hose and cylinder empty, before anything is touched.");
        }
        if self.current.as_ref().is_some_and(|c| c.strokes == 0) {
            self.finishing = true;
            self.stage = Stage::Finished;
            self.withdraw(GivenUp::Skipped);
        }
    }

    pub(super) fn warm_round(&mut self) {
        if self.plan.round() == Condition::WarmDry {
            return self.warn("The warm round is planned already.");
        }
        self.before("A warm round is planned.");
        self.oil_proposed = false;
        self.oil_refused = false;
        self.worth_oil.clear();
        self.plan.add_round(Condition::WarmDry);
        self.go_on_if_idle();
        self.say_what_was_done();
    }

    pub(super) fn wet_round(&mut self) {
        let refused = self.why_no_oil();
        if !self.may_be_oiled() {
            return self.warn(refused.unwrap_or_default());
        }
        let mind = refused.map_or(String::new(), |why| format!(" {why}"));
        if self.worth_oil.is_empty() || refused.is_some() {
            let last = self.made.iter().rev();
            let mut counting = last.filter(|m| !matches!(m.state, RunState::Void(_)));
            let Some(last) = counting.next() else {
                return self.warn("Make a dry run first.");
            };
            let planned = Planned {
                cylinder: last.cylinder.clone(),
                named: last.named,
                condition: Condition::Wet,
                why: Some("asked for".to_owned()),
                instead_of: None,
            };
            let of = place(&planned.cylinder);
            self.before(format!("Planned: {of} wet.{mind}"));
            if self.plan.has_cylinders() {
                self.plan.add(planned);
            } else {
                self.put_before(planned);
            }
        } else {
            self.before("Planned: wet runs.");
            self.plan_oil();
        }
        self.go_on_if_idle();
        self.say_what_was_done();
    }

    fn go_on_if_idle(&mut self) {
        if self.stage == Stage::Offer {
            self.next_run();
        }
    }

    pub(super) fn name(&mut self, name: &str) {
        if name.trim().is_empty() {
            return;
        }
        if let Some(current) = self.current.as_mut()
            && current.strokes > 0
        {
            // The run is not in the findings yet: it is named when it is.
            name.clone_into(&mut current.planned.cylinder);
            current.planned.named = true;
            return self.warn(format!("This run is named {name}."));
        }
        let unnamed = self.made.iter().position(|m| !m.named);
        let at = if self.stage == Stage::Naming {
            unnamed
        } else {
            self.made.len().checked_sub(1)
        };
        self.name_made(at, name);
        if self.stage == Stage::Naming {
            self.name_the_unnamed();
        }
    }

    fn name_made(&mut self, at: Option<usize>, name: &str) {
        let Some(run) = at.and_then(|at| self.made.get_mut(at)) else {
            return self.warn("No run to name yet.");
        };
        name.clone_into(&mut run.cylinder);
        run.named = true;
        let entry = Entry::Name {
            run: run.index,
            cylinder: name.to_owned(),
            condition: run.condition,
        };
        self.record(entry);
        self.warn(format!("The run before is named {name}."));
    }

    /// No more runs.
    pub(super) fn finish(&mut self) {
        if std::mem::replace(&mut self.finishing, true) {
            return;
        }
        self.undo = None;
        match self.current.as_mut() {
            Some(current) if current.strokes == 0 => self.leave_out(GivenUp::Skipped),
            Some(current) => {
                current.end_asked = true;
                self.record(Entry::End);
            }
            None => self.name_the_unnamed(),
        }
    }

    /// Nothing more will come; what was being made has been ended already.
    pub(super) fn source_ended(&mut self) {
        self.finishing = true;
        self.current = None;
        self.name_the_unnamed();
    }

    /// Asks for the next name that is missing; at the end of them, the end.
    pub(super) fn name_the_unnamed(&mut self) {
        let wanting = |m: &MadeRun| !m.named && !matches!(m.state, RunState::Void(_));
        if self.made.iter().any(wanting) && !self.setup.replay {
            self.enter(Stage::Naming);
        } else if self.stage != Stage::Finished {
            self.enter(Stage::Finished);
            self.announce(Announcement::Finished);
        }
    }

    /// Nobody knows which cylinder it was.
    pub(super) fn leave_unnamed(&mut self) {
        if let Some(run) = self.made.iter_mut().find(|m| !m.named) {
            run.named = true;
        }
        self.name_the_unnamed();
    }

    pub(super) fn leave_all_unnamed(&mut self) {
        for run in &mut self.made {
            run.named = true;
        }
        self.name_the_unnamed();
    }
}
