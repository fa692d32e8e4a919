//! The state machine: stages, and what moves from one to the next.

use super::input::{Command, Input, Link, Setup, Trouble};
use super::output::{Announcement, Entry, Output};
use super::plan::{Plan, Planned, place};
use super::state::{LEFT_OVER, MadeRun, Patience, Session, Stage};
use super::task::AirAnswer;
use super::voice;
use super::words;
use crate::signal::{Count, Event, Reading, Rig, Stroke, Zero};
use crate::units::{Pressure, Time};

/// How long the held reading is watched for the tester's leak. (Our choice: a leak of 1 % of the
/// reading in 10 s shows well above a usual sensor's resolution.)
pub(super) const WATCH: Time = Time::from_s(4.0);

/// Pressure that stays this long before there is a zero was left in the hose. (Our choice.)
const STAYS: Time = Time::from_s(1.5);

/// On a following rig, a run is over this long after the last stroke. (Our choice: longer than
/// the pause between two kicks once the reading has settled and the user was told to stop.)
const QUIET: Time = Time::from_s(3.0);

/// Who is told to stop needs this long until the engine stands. (Our choice.)
const RUNS_DOWN: Time = Time::from_s(2.0);

impl Session {
    /// A session at its very beginning.
    pub fn new(setup: Setup) -> Self {
        let mut session = Self {
            plan: Plan::new(setup.cylinders.clone(), setup.first),
            stage: Stage::Cautions,
            current: None,
            made: Vec::new(),
            worth_oil: Vec::new(),
            oil_proposed: false,
            oil_refused: false,
            now: Time::ZERO,
            entered: Time::ZERO,
            pressure: None,
            left_over: None,
            zero: None,
            rig: None,
            link: Link::Up,
            notice: None,
            finishing: false,
            stray: None,
            waiting: false,
            held_since: None,
            undo: None,
            weighing: false,
            patience: Patience::NEW,
            air: None,
            air_cautions_read: setup.cautions_read,
            suspects: Vec::new(),
            aired: Vec::new(),
            resting: false,
            said: String::new(),
            out: Vec::new(),
            setup,
        };
        session.keep_earlier_runs();
        if session.setup.cautions_read {
            session.enter(Stage::Zero);
            session.mind_the_sensor();
        } else {
            session.say_cautions();
        }
        session
    }

    /// Takes what happened and adds to `out` what is to be done about it.
    pub fn push(&mut self, input: Input<'_>, out: &mut Vec<Output>) {
        match input {
            Input::Clock(now) => self.clock(now),
            Input::Pressure(pressure) => self.feel(pressure),
            Input::Signal(event) => self.signal(event),
            Input::RunEnded { index, result } => self.run_ended(index, result),
            Input::Assessed(assessment) => self.assessed(assessment),
            Input::Air(told) => self.air_told(told),
            Input::AirTested(test) => self.air_tested(test),
            Input::Link(link) => self.linked(link),
            Input::Command(command) => self.command(command),
            Input::Told {
                cylinder,
                condition,
            } => self.told(cylinder, condition),
            Input::Amended {
                index,
                cylinder,
                condition,
                void,
            } => self.amended(index, cylinder, condition, void),
            Input::SourceEnded => self.source_ended(),
            Input::Leaving => self.leaving(),
        }
        out.append(&mut self.out);
    }

    /// Where the session stands.
    pub fn stage(&self) -> Stage {
        self.stage
    }

    /// Every run made so far, in the order made.
    pub fn made(&self) -> &[MadeRun] {
        &self.made
    }

    /// The run being made, if one is.
    pub fn current(&self) -> Option<&Planned> {
        self.current.as_ref().map(|c| &c.planned)
    }

    /// The settled reading of the run being made.
    pub fn settled(&self) -> Option<&Reading> {
        self.current.as_ref().and_then(|c| c.settled.as_ref())
    }

    /// One line; not the same one twice running.
    pub(super) fn say(&mut self, text: impl Into<String>) {
        let text = text.into();
        if self.said != text {
            self.said.clone_from(&text);
            self.out.push(Output::Say(text));
        }
    }

    pub(super) fn announce(&mut self, announcement: Announcement) {
        self.stirred();
        self.out.push(Output::Announce(announcement));
    }

    pub(super) fn record(&mut self, entry: Entry) {
        self.out.push(Output::Record(entry));
    }

    /// Something that the user should know; said once, shown until the stage changes.
    pub(super) fn warn(&mut self, text: impl Into<String>) {
        let text = text.into();
        if self.notice.as_ref() != Some(&text) {
            self.say(text.clone());
            self.notice = Some(text);
        }
    }

    pub(super) fn enter(&mut self, stage: Stage) {
        let before = std::mem::replace(&mut self.stage, stage);
        self.entered = self.now;
        self.notice = None;
        if stage != Stage::Cautions {
            let next = self.view().next;
            self.say(next);
            // STOP and the end are announced, strokes are counted, and of a bleed that goes on for
            // a moment nobody need be told twice.
            let bleeds_on = (before, stage) == (Stage::Bleed, Stage::Bleed);
            let told = matches!(stage, Stage::Climbing | Stage::Hold | Stage::Finished);
            if !(told || bleeds_on || self.resting) {
                self.speak();
            }
        }
    }

    fn clock(&mut self, now: Time) {
        self.now = self.now.max(now);
        match self.stage {
            Stage::Hold if self.link == Link::Up && self.now - self.entered >= WATCH => {
                self.enter(Stage::Bleed);
            }
            Stage::Air => self.tick_air(),
            _ => self.end_when_quiet(),
        }
        self.speak_again();
    }

    pub(super) fn follows(&self) -> bool {
        self.rig == Some(Rig::Following)
    }

    /// No bleed ends a run of a following rig, nor strokes that belong to no run: quiet does.
    fn end_when_quiet(&mut self) {
        let empty = self.pressure.is_none_or(|p| p < LEFT_OVER);
        if !empty || self.link != Link::Up {
            return;
        }
        let now = self.now;
        let quiet = |last: Time| now - last >= QUIET;
        let over = match self.current.as_mut() {
            Some(current) => {
                let given_up = current.given_up.is_some();
                let over = self.stage == Stage::Bleed
                    && !current.end_asked
                    && quiet(current.last_stroke)
                    && (self.rig == Some(Rig::Following) || given_up);
                current.end_asked |= over;
                over
            }
            None => self.stray.take_if(|last| quiet(*last)).is_some(),
        };
        if over {
            self.record(Entry::End);
        }
    }

    fn feel(&mut self, pressure: Pressure) {
        self.pressure = Some(pressure);
        if self.stage == Stage::Bleed && self.current.is_none() && pressure < LEFT_OVER {
            self.next_run();
        }
        if self.stage == Stage::Zero {
            self.feel_left_over(pressure);
        }
    }

    /// Pressure that stays before there is a zero: the hose was not bled.
    fn feel_left_over(&mut self, pressure: Pressure) {
        if pressure < LEFT_OVER {
            self.held_since = None;
            if self.zero.is_none() {
                self.left_over = None;
            }
            return;
        }
        let since = *self.held_since.get_or_insert(self.now);
        if self.now - since >= STAYS {
            self.left_in_hose(pressure);
        }
    }

    fn left_in_hose(&mut self, pressure: Pressure) {
        if self.left_over.is_none() {
            let shown = pressure.show(self.setup.unit);
            self.warn(format!(
                "The sensor shows {shown} with nothing on it. Pressure left in the hose? Bleed it."
            ));
        }
        self.left_over = Some(pressure);
    }

    fn signal(&mut self, event: &Event) {
        match event {
            Event::Zeroed(zero) => self.zeroed(*zero),
            Event::RigRecognised(rig) => self.rig = Some(*rig),
            Event::Stroke(stroke) => self.stroke(stroke),
            Event::Counted(count) => self.counted(count),
            Event::Settled { reading, .. } => self.has_settled(reading),
            Event::Withdrawn { now, .. } => self.withdrawn(*now),
            Event::Paused { strokes } => self.paused(*strokes),
            Event::Bled { .. } => self.bled(),
            Event::Flagged(_) | Event::RunEnded(_) => {}
        }
    }

    fn zeroed(&mut self, zero: Zero) {
        self.zero = Some(zero);
        let above = zero.level - self.setup.zero_expected;
        if above > LEFT_OVER {
            self.left_in_hose(above);
        } else {
            self.left_over = None;
            if self.stage == Stage::Zero {
                self.next_run();
            }
        }
    }

    fn stroke(&mut self, stroke: &Stroke) {
        self.stirred();
        self.resting = false;
        if self.current.is_none() {
            self.stray = Some(self.now);
        }
        match self.stage {
            Stage::Cautions => self.warn("Stop cranking: read the cautions first."),
            Stage::Zero => self.warn("Too early: stop cranking until the sensor is at zero."),
            Stage::Ready | Stage::Climbing => self.climb(stroke),
            Stage::Hold => {
                self.count(stroke);
                self.cranked_on();
            }
            Stage::Bleed => {
                self.count(stroke);
                self.warn("Stop cranking: bleed first, or two readings get mixed.");
            }
            Stage::AirCautions | Stage::Air => {
                self.warn("Stop cranking: a test with air comes now, and nobody turns the engine.");
            }
            Stage::Offer | Stage::Naming => {
                self.warn("Cranking, but no run is planned: this one will not count.");
            }
            Stage::Finished => {}
        }
    }

    fn count(&mut self, stroke: &Stroke) {
        let now = self.now;
        if let Some(current) = self.current.as_mut() {
            current.strokes = stroke.number;
            current.last_stroke = now;
            current.paused = false;
        }
    }

    /// Cranking goes on while the tester is watched for a leak.
    fn cranked_on(&mut self) {
        let text = "Stop: the reading has settled, and the tester is checked for a leak.";
        if self.now - self.entered < RUNS_DOWN || self.notice.as_deref() == Some(text) {
            return;
        }
        self.announce(Announcement::StillCranking);
        self.warn(text);
    }

    fn climb(&mut self, stroke: &Stroke) {
        self.count(stroke);
        if self.stage == Stage::Ready {
            self.undo = None;
            self.enter(Stage::Climbing);
        }
    }

    /// One more stroke, kick or pull is over, or was due.
    fn counted(&mut self, count: &Count) {
        let Some(current) = self.current.as_mut() else {
            return;
        };
        let before = current.count.replace(*count).and_then(|count| count.to_go);
        if self.stage == Stage::Climbing {
            if let Some(more) = count.to_go.filter(|more| Some(*more) != before) {
                self.speak_words(voice::to_go(more));
            }
            let one = words::counted(count.turned, self.setup.kind.start);
            let made = count.made;
            let needle = count.needle.show(self.setup.unit);
            self.say(format!("{} {made}: needle {needle}", words::sentence(one)));
        }
    }

    fn has_settled(&mut self, reading: &Reading) {
        let Some(current) = self.current.as_mut() else {
            return;
        };
        current.settled = Some(reading.clone());
        let of = current.planned.cylinder.clone();
        if !matches!(self.stage, Stage::Ready | Stage::Climbing) {
            return;
        }
        let unit = self.setup.unit;
        let (value, expanded) = (reading.value.show(unit), reading.expanded.digits(unit));
        self.announce(Announcement::Settled {
            value: reading.value,
            text: voice::stop(reading.value, unit),
        });
        self.say(format!("STOP: {of} reads {value} ± {expanded}"));
        self.enter(if self.follows() {
            Stage::Bleed
        } else {
            Stage::Hold
        });
    }

    fn withdrawn(&mut self, now: Pressure) {
        let follows = self.follows();
        let Some(current) = self.current.as_mut() else {
            return;
        };
        current.settled = None;
        let needle = now.show(self.setup.unit);
        if self.stage == Stage::Bleed && !follows {
            // The leak check was over and the user had been told to bleed.
            current.mixed = true;
            self.announce(Announcement::Withdrawn);
            self.warn(
                "The pressure climbs again. Another cylinder? Bleed first; this run will be offered again.",
            );
        } else if matches!(self.stage, Stage::Hold | Stage::Bleed) {
            self.announce(Announcement::Withdrawn);
            self.enter(Stage::Climbing);
            self.warn(format!(
                "Not settled after all: the needle climbed to {needle}. Keep cranking."
            ));
        }
    }

    fn paused(&mut self, strokes: u32) {
        if let Some(current) = self.current.as_mut()
            && self.stage == Stage::Climbing
        {
            current.paused = true;
            let s = if strokes == 1 { "" } else { "s" };
            self.say(format!(
                "Paused after {strokes} stroke{s}; the needle was still climbing."
            ));
            self.speak();
        }
    }

    fn bled(&mut self) {
        match self.stage {
            Stage::Climbing => self.say("Bled before STOP."),
            Stage::Hold => self.say("Bled before the leak check was over."),
            Stage::Bleed => self.say("Bled."),
            _ => {}
        }
    }

    fn linked(&mut self, link: Link) {
        if link == self.link {
            return;
        }
        let before = std::mem::replace(&mut self.link, link);
        match link {
            Link::Lost => {
                self.announce(Announcement::LinkLost);
                self.say("Link to the sensor lost; looking for it again.");
            }
            Link::Silent => self.say("Nothing comes from the sensor."),
            Link::Up => {
                // The leak check must see the whole time.
                self.entered = self.now;
                let next = self.view().next;
                if before == Link::Lost {
                    self.say(format!("Link is back. {next}"));
                }
            }
        }
    }

    fn command(&mut self, command: Command) {
        // Nothing moves past the cautions but reading them.
        if self.stage == Stage::Cautions && !matches!(command, Command::Go | Command::Note(_)) {
            self.warn("Read the cautions first.");
            return;
        }
        if self.stage == Stage::Finished {
            return;
        }
        self.stirred();
        match command {
            Command::Go => self.go(),
            Command::Skip | Command::Finish if self.stage == Stage::AirCautions => {
                self.answer_air(AirAnswer::Leave);
            }
            Command::Skip if self.stage == Stage::Air => self.answer_air(AirAnswer::Skip),
            Command::Redo if self.stage == Stage::Air => self.answer_air(AirAnswer::Again),
            Command::Finish if self.stage == Stage::Air => self.answer_air(AirAnswer::Leave),
            Command::LeakDown(cylinder) => self.leak_down(cylinder),
            Command::CheckTester => self.check_tester(),
            Command::HearNth(nth) => self.hear_nth(nth),
            Command::Hear(place) => self.answer_air(AirAnswer::Hear(place)),
            Command::Heard(text) => self.hear_all(&text),
            Command::Skip => self.skip(),
            Command::Redo => self.redo(),
            Command::Name(name) => self.name(&name),
            Command::Note(text) => {
                self.say(format!("Noted: {text}"));
                self.record(Entry::Note(text));
            }
            Command::Trouble(trouble) => self.trouble(trouble),
            Command::Undo => self.take_back(),
            Command::Say => self.speak(),
            Command::Warm => self.warm_round(),
            Command::Wet => self.wet_round(),
            Command::OilIn => self.oil_is_in(),
            Command::Pause => self.pause(),
            Command::Finish if self.stage == Stage::Naming => self.leave_all_unnamed(),
            Command::Finish => self.finish(),
        }
    }

    fn go(&mut self) {
        match self.stage {
            Stage::Cautions => {
                self.record(Entry::Mark("cautions read".to_owned()));
                self.enter(Stage::Zero);
                if let Some(zero) = self.zero {
                    self.zeroed(zero);
                }
            }
            Stage::Zero if self.left_over.is_some() => {
                self.record(Entry::Mark("zero accepted as it is".to_owned()));
                self.next_run();
            }
            Stage::Bleed => self.give_up_waiting_for_bleed(),
            Stage::AirCautions => self.air_cautions_are_read(),
            Stage::Air => self.answer_air(AirAnswer::Go),
            Stage::Naming => self.leave_unnamed(),
            _ => {}
        }
    }

    /// The user says that the pressure is off, though no bleed was seen.
    fn give_up_waiting_for_bleed(&mut self) {
        if let Some(current) = self.current.as_mut() {
            current.end_asked = true;
            self.record(Entry::End);
        } else {
            self.next_run();
        }
    }

    fn trouble(&mut self, trouble: Trouble) {
        if trouble == Trouble::Throttle && self.has_no_throttle() {
            return self.warn("A diesel has no throttle to open.");
        }
        let text = trouble.text();
        let of = self.current.as_ref().filter(|c| c.strokes > 0);
        let of = of.map(|c| &c.planned.cylinder);
        let Some(of) = of.or(self.made.last().map(|made| &made.cylinder)) else {
            return self.warn("No run to mark yet.");
        };
        self.before(format!("Marked, {}: {text}; made again.", place(of)));
        self.record(Entry::Mark(text.to_owned()));
        match self.current.as_mut() {
            Some(current) if current.strokes > 0 => current.troubles.push(trouble),
            _ => self.offer_last_again(text),
        }
        self.say_what_was_done();
    }

    /// What a key changed is said at once.
    pub(super) fn say_what_was_done(&mut self) {
        if let Some(did) = self.did() {
            self.say(did);
        }
    }
}
