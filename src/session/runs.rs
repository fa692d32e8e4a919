//! The runs: what becomes of one that has ended, and which comes next.

use super::judge;
use super::output::{Announcement, Entry};
use super::plan::{Planned, place, worth_oil};
use super::state::{Current, GivenUp, LEFT_OVER, MadeRun, RunState, Session, Stage};
use crate::assess::Assessment;
use crate::engine::Condition;
use crate::signal::RunResult;
use crate::units::Pressure;

/// How often a run that went wrong is offered again without being asked for.
const OFFERS: usize = 2;

impl Session {
    /// Counts in the runs of an earlier part of the session.
    pub(super) fn keep_earlier_runs(&mut self) {
        for (index, run) in std::mem::take(&mut self.setup.kept).into_iter().enumerate() {
            let state = match (run.void, judge::wrong(&run.result, run.condition, &[])) {
                (true, _) => RunState::Void("taken back".to_owned()),
                _ if run.result.strokes.is_empty() => RunState::Void("never made".to_owned()),
                (false, Some(why)) => RunState::Wrong(why),
                (false, None) => RunState::Good,
            };
            if !run.void && run.result.strokes.is_empty() {
                // Asked for when the session was stopped.
                let reason = "never made".to_owned();
                self.record(Entry::Void { run: index, reason });
            }
            if state == RunState::Good {
                self.plan.made_before(&run.cylinder, run.condition);
            }
            self.made.push(MadeRun {
                index,
                cylinder: run.cylinder,
                named: run.named,
                condition: run.condition,
                state,
                shown: shown(&run.result),
                reading: run.result.reading,
            });
        }
        self.plan.unnamed_before(self.made.len());
    }

    /// Begins the next planned run; when there is none, proposes.
    pub(super) fn next_run(&mut self) {
        if self.finishing {
            return self.name_the_unnamed();
        }
        if self.stray.take().is_some() {
            // Strokes that belong to no run must not become the beginning of this one.
            self.waiting = true;
            return self.record(Entry::End);
        }
        if self.pressure.is_some_and(|p| p >= LEFT_OVER) && self.zero.is_some() {
            return self.enter(Stage::Bleed);
        }
        if self.check_tester_first() {
            return;
        }
        self.propose_oil();
        match self.plan.next() {
            Some(planned) => self.begin(planned),
            None => self.enter(Stage::Offer),
        }
    }

    pub(super) fn begin(&mut self, planned: Planned) {
        self.record(Entry::Run {
            cylinder: planned.cylinder.clone(),
            condition: planned.condition,
        });
        self.current = Some(Current {
            announced: planned.cylinder.clone(),
            planned,
            strokes: 0,
            last_stroke: self.now,
            paused: false,
            settled: None,
            count: None,
            troubles: Vec::new(),
            mixed: false,
            given_up: None,
            end_asked: false,
            oil_is_in: false,
        });
        self.enter(Stage::Ready);
    }

    /// Once the dry round is made: wet runs on what is low or uneven.
    fn propose_oil(&mut self) {
        let nothing = self.worth_oil.is_empty();
        if !self.round_is_made() || nothing || self.oil_proposed || self.setup.replay {
            return;
        }
        self.plan_oil();
    }

    /// Nothing that was planned is left to be made.
    fn round_is_made(&self) -> bool {
        self.plan.has_cylinders() && self.plan.queue().next().is_none()
    }

    pub(super) fn plan_oil(&mut self) {
        self.oil_proposed = true;
        let worth_oil = std::mem::take(&mut self.worth_oil);
        if let Some(why) = self.why_no_oil() {
            self.oil_refused = true;
            return self.say(why);
        }
        for (cylinder, why) in worth_oil {
            if self.was_oiled(&cylinder) {
                continue;
            }
            self.say(format!("Proposed: cylinder {cylinder} wet, because {why}"));
            self.plan.add(Planned {
                cylinder,
                named: true,
                condition: Condition::Wet,
                why: Some(why),
                instead_of: None,
            });
        }
    }

    /// A run is complete: keeps it, and offers it again if it went wrong.
    pub(super) fn run_ended(&mut self, index: usize, result: &RunResult) {
        let Some(current) = self.current.take() else {
            return self.stray(index, result);
        };
        if current.strokes > 0 {
            self.undo = None;
        }
        let state = state_of(&current, result);
        let planned = current.planned;
        let reading = result.reading.clone();
        match &state {
            RunState::Void(reason) => self.record(Entry::Void {
                run: index,
                reason: reason.clone(),
            }),
            RunState::Good | RunState::Wrong(_) => self.say_result(&planned, result),
        }
        if reading.is_some() && !matches!(state, RunState::Void(_)) {
            self.replace(planned.instead_of);
        }
        self.made.push(MadeRun {
            index,
            cylinder: planned.cylinder.clone(),
            named: planned.named,
            condition: planned.condition,
            state: state.clone(),
            reading,
            shown: shown(result),
        });
        self.settle_name(index, &planned, &current.announced);
        self.offer_again(index, planned, &state, current.given_up);
        if matches!(self.stage, Stage::Naming | Stage::Finished) {
            return;
        }
        // What is known to be low was so before this run; what it means comes next.
        if !self.oil_proposed {
            self.worth_oil.clear();
        }
        self.weighing = !self.finishing && !self.oil_proposed && self.round_is_made();
        if !self.weighing {
            self.next_run();
        }
    }

    /// The run was named while it was being made.
    fn settle_name(&mut self, run: usize, planned: &Planned, announced: &str) {
        if planned.cylinder != announced {
            self.record(Entry::Name {
                run,
                cylinder: planned.cylinder.clone(),
                condition: planned.condition,
            });
        }
    }

    /// Strokes when no run was asked for.
    fn stray(&mut self, index: usize, result: &RunResult) {
        let reason = "made when no run was asked for".to_owned();
        self.record(Entry::Void {
            run: index,
            reason: reason.clone(),
        });
        self.made.push(MadeRun {
            index,
            cylinder: "?".to_owned(),
            named: true,
            condition: self.plan.round(),
            state: RunState::Void(reason),
            reading: result.reading.clone(),
            shown: shown(result),
        });
        self.stray = None;
        if std::mem::take(&mut self.waiting) {
            self.next_run();
        }
    }

    fn say_result(&mut self, planned: &Planned, result: &RunResult) {
        let unit = self.setup.unit;
        let (name, condition) = (&planned.cylinder, planned.condition.label());
        let text = match &result.reading {
            Some(r) if r.is_at_least() => format!(
                "{name} {condition}: at least {}; the needle was still climbing",
                r.value.show(unit)
            ),
            Some(r) => format!(
                "{name} {condition}: {} ± {}",
                r.value.show(unit),
                r.expanded.digits(unit)
            ),
            None => format!("{name} {condition}: no reading"),
        };
        self.say(text);
    }

    /// The run made before is no longer needed: this one stands in its place.
    fn replace(&mut self, index: Option<usize>) {
        let Some(old) = self.made.iter_mut().find(|m| Some(m.index) == index) else {
            return;
        };
        let reason = match &old.state {
            RunState::Void(_) => return,
            RunState::Wrong(why) => format!("made again: {why}"),
            RunState::Good => "made again".to_owned(),
        };
        old.state = RunState::Void(reason.clone());
        let run = old.index;
        self.record(Entry::Void { run, reason });
    }

    fn offer_again(
        &mut self,
        index: usize,
        planned: Planned,
        state: &RunState,
        given_up: Option<GivenUp>,
    ) {
        let why = match (state, given_up) {
            _ if self.setup.replay || self.finishing => return,
            (RunState::Void(_), Some(GivenUp::Again)) => "asked for".to_owned(),
            (RunState::Void(_), Some(GivenUp::PutOff)) => return self.plan_after_next(planned),
            // The oil is in and leaves: a wet run is read at its highest, and not asked for twice.
            (RunState::Wrong(_), _) if planned.condition == Condition::Wet => return,
            (RunState::Wrong(why), _) if self.offers_left(&planned) => why.clone(),
            _ => return,
        };
        if given_up.is_none() {
            self.announce(Announcement::Again);
        }
        self.say(format!("Once more, {}: {why}", place(&planned.cylinder)));
        self.plan.add_first(Planned {
            why: Some(why),
            instead_of: Some(index),
            ..planned
        });
    }

    /// The run that was put off comes after the one that was put before it.
    pub(super) fn plan_after_next(&mut self, planned: Planned) {
        let before = self.plan.next();
        self.plan.put_back(planned);
        if let Some(before) = before {
            self.plan.put_back(before);
        }
    }

    pub(super) fn offers_left(&self, planned: &Planned) -> bool {
        let of_same =
            |m: &&MadeRun| m.cylinder == planned.cylinder && m.condition == planned.condition;
        self.made.iter().filter(of_same).count() <= OFFERS
    }

    /// Looks at what the runs mean so far.
    pub(super) fn assessed(&mut self, assessment: &Assessment) {
        let round = self.plan.round();
        if round != Condition::Wet && !self.oil_proposed {
            self.worth_oil = worth_oil(assessment, round);
        }
        self.suspects = worth_oil(assessment, round);
        self.throttle_check(assessment);
        if std::mem::take(&mut self.weighing) {
            self.next_run();
        }
    }

    /// What is known from before of a visit that is resumed: what its runs mean, and which cylinders were
    /// tested with air. What is suspect is proposed for a leak-down test at once.
    #[must_use]
    pub fn taken_up(mut self, assessment: &Assessment, aired: Vec<String>) -> Self {
        self.suspects = worth_oil(assessment, self.plan.round());
        self.aired = aired;
        self
    }

    /// A throttle that was shut shows only in what the reading means.
    fn throttle_check(&mut self, assessment: &Assessment) {
        let Some(last) = self.made.last() else { return };
        let shut =
            last.state == RunState::Good && judge::throttle_was_shut(assessment, &last.cylinder);
        if shut {
            self.offer_last_again("the throttle was probably shut");
        }
    }

    /// A replayed recording says what became of a run.
    pub(super) fn amended(
        &mut self,
        index: usize,
        cylinder: &str,
        condition: Condition,
        void: bool,
    ) {
        let Some(run) = self.made.iter_mut().find(|m| m.index == index) else {
            return;
        };
        cylinder.clone_into(&mut run.cylinder);
        run.condition = condition;
        if void {
            run.state = RunState::Void("taken back".to_owned());
        }
    }

    /// A replayed recording says which run begins.
    pub(super) fn told(&mut self, cylinder: &str, condition: Condition) {
        self.plan.made_before(cylinder, condition);
        let planned = Planned {
            cylinder: cylinder.to_owned(),
            named: true,
            condition,
            why: None,
            instead_of: None,
        };
        self.begin(planned);
    }
}

/// What becomes of a run that has ended.
fn state_of(current: &Current, result: &RunResult) -> RunState {
    let given_up = current.given_up.map(|how| match how {
        GivenUp::Skipped => "left out",
        GivenUp::Again => "given up, to be made again",
        GivenUp::PutOff => "put off",
    });
    if let Some(why) = given_up {
        return RunState::Void(why.to_owned());
    }
    let mixed = current.mixed.then(|| {
        "it climbed again when it should have been bled; two cylinders in one?".to_owned()
    });
    let condition = current.planned.condition;
    match mixed.or_else(|| judge::wrong(result, condition, &current.troubles)) {
        Some(why) => RunState::Wrong(why),
        None => RunState::Good,
    }
}

fn shown(result: &RunResult) -> Vec<Pressure> {
    let strokes = result.strokes.iter();
    strokes.map(|stroke| stroke.shown(result.rig)).collect()
}
