//! Tests with air within the visit: the leak-down test of a cylinder that is suspect, and whether the
//! tester is tight.

use super::output::{Announcement, Entry};
use super::prompt::Tone;
use super::state::{Air, GivenUp, Session, Stage};
use super::steps::AirSteps;
use super::task::{AirAnswer, AirTask};
use crate::engine::Condition;
use crate::engine::cautions::{FIRST, before_air};
use crate::leakdown::{AirFlag, AirTest, Filled, Place, Told, words};

impl Session {
    /// What to mind before air is put into this engine, each with what it is about.
    pub fn air_cautions(&self) -> Vec<(&'static str, String)> {
        let cautions = before_air(&self.setup.kind).into_iter();
        cautions.map(|c| (c.about, c.text.to_owned())).collect()
    }

    /// Cylinders for which a leak-down test is proposed, the one that is proposed first before the
    /// others.
    pub fn worth_air(&self) -> impl Iterator<Item = &str> {
        let names = self.suspects.iter().map(|(name, _)| name.as_str());
        names.filter(|name| !self.aired.iter().any(|aired| aired == name))
    }

    /// The places of which one may be named now; none unless it is asked where air is heard.
    pub fn places_asked(&self) -> &[Place] {
        match &self.air {
            Some(air) if self.stage == Stage::Air => air.steps.places(),
            _ => &[],
        }
    }

    /// Whether this step of a test with air may be left out.
    pub fn may_skip_air(&self) -> bool {
        self.air.as_ref().is_some_and(|air| air.steps.may_skip())
    }

    /// A leak-down test of this cylinder, or of the one that is proposed, or of the last one made.
    pub(super) fn leak_down(&mut self, named: Option<String>) {
        if !matches!(self.stage, Stage::Ready | Stage::Offer) {
            return self.warn("A leak-down test comes between two runs: finish this one first.");
        }
        if let Some(odd) = named.as_ref().filter(|name| !self.plan.knows(name)) {
            return self.warn(format!("The card has no cylinder \"{odd}\"."));
        }
        let proposed = self.worth_air().next().map(str::to_owned);
        let made = self.made.iter().rev().find(|made| made.named);
        let made = made.map(|made| made.cylinder.clone());
        let waits = self.current().filter(|planned| planned.named);
        let waits = waits.map(|planned| planned.cylinder.clone());
        let Some(cylinder) = named.or(proposed).or(made).or(waits) else {
            return self.warn("Which cylinder? Make a run and name it first.");
        };
        let condition = match self.plan.round() {
            Condition::WarmDry => Condition::WarmDry,
            _ => Condition::ColdDry,
        };
        self.begin_air(AirTask::LeakDown {
            cylinders: vec![cylinder],
            condition,
            restrictor: self.setup.air.restrictor,
        });
    }

    /// How tight the tester is.
    pub(super) fn check_tester(&mut self) {
        if !matches!(self.stage, Stage::Ready | Stage::Offer) {
            return self.warn("The tester is checked between two runs: finish this one first.");
        }
        self.begin_air(self.of_tester());
    }

    fn of_tester(&self) -> AirTask {
        AirTask::Decay {
            filled: Filled::Tester,
            cylinder: None,
            volume_cm3: self.setup.air.tester_cm3,
        }
    }

    /// The check that was asked for before the first run, once.
    pub(super) fn check_tester_first(&mut self) -> bool {
        let asked = std::mem::take(&mut self.setup.air.check_tester) && !self.setup.replay;
        if asked {
            self.begin_air(self.of_tester());
        }
        asked
    }

    fn begin_air(&mut self, task: AirTask) {
        if let Some(current) = &self.current {
            if current.planned.condition == Condition::Wet {
                return self.warn("First the wet run that is asked for, or skip it (s).");
            }
            if let Some(planned) = self.withdraw(GivenUp::PutOff) {
                self.plan.put_back(planned);
            }
        }
        self.undo = None;
        self.stray = None;
        self.air = Some(Air {
            steps: AirSteps::new(task, self.setup.air.engine.clone()),
            note: None,
            held: false,
        });
        if self.air_cautions_read {
            return self.enter(Stage::Air);
        }
        self.stage = Stage::AirCautions;
        self.entered = self.now;
        self.notice = None;
        self.say(FIRST);
        for (about, text) in self.air_cautions() {
            self.say(format!("{about}. {text}"));
        }
        let next = self.view().next;
        self.say(next);
        self.speak();
    }

    /// The cautions about air have been read.
    pub(super) fn air_cautions_are_read(&mut self) {
        self.record(Entry::Mark("cautions about air read".to_owned()));
        self.air_cautions_read = true;
        self.enter(Stage::Air);
    }

    /// The user presses the number of a place.
    pub(super) fn hear_nth(&mut self, nth: usize) {
        if let Some(place) = self.places_asked().get(nth).copied() {
            self.answer_air(AirAnswer::Hear(place));
        }
    }

    /// The user writes where air is heard, and that is all.
    pub(super) fn hear_all(&mut self, text: &str) {
        match AirAnswer::parse(text, self.places_asked()) {
            Ok(answer @ AirAnswer::Heard(_)) => self.answer_air(answer),
            Ok(_) => self.warn("Heard where? For example: heard exhaust"),
            Err(why) => self.warn(why),
        }
    }

    /// The user answers what the test asks.
    pub(super) fn answer_air(&mut self, answer: AirAnswer) {
        let Some(air) = self.air.as_mut() else {
            return self.warn("No test with air is under way.");
        };
        match air.steps.answer(answer) {
            Ok(entries) => self.air_goes_on(entries),
            Err(why) => self.warn(why),
        }
    }

    /// Time passes in a test with air.
    pub(super) fn tick_air(&mut self) {
        let now = self.now;
        let up = self.link == super::input::Link::Up;
        let Some(air) = self.air.as_mut().filter(|_| up) else {
            return;
        };
        let before = air.steps.headline();
        let entries = air.steps.tick(now);
        if !entries.is_empty() || air.steps.headline() != before {
            self.air_goes_on(entries);
        }
    }

    /// The next step, or the end of it.
    fn air_goes_on(&mut self, entries: Vec<Entry>) {
        for entry in entries {
            self.record(entry);
        }
        match self.air.take_if(|air| air.steps.is_over()) {
            Some(air) => {
                self.aired
                    .extend(air.held.then(|| air.steps.name().to_owned()));
                self.next_run();
            }
            None => self.enter(Stage::Air),
        }
    }

    /// The analysis of the test has something to say.
    pub(super) fn air_told(&mut self, told: &Told) {
        let unit = self.setup.unit;
        let Some(air) = self.air.as_mut() else { return };
        let entries = air.steps.told(told);
        match told {
            Told::Plateau(stage, _) if stage.is_connected() => {}
            Told::Blurred(_) => {}
            Told::Plateau(stage, plateau) => {
                let text = format!("{}: {}", words::stage(*stage), plateau.level.show(unit));
                air.note = Some(text.clone());
                self.say(text);
            }
            Told::Held(held) => {
                let text = words::held(held, unit);
                air.note = Some(text.clone());
                air.held = true;
                self.say(text);
            }
            Told::Flag(flag @ AirFlag::FellAway { .. }) => {
                self.announce(Announcement::AirOff);
                self.say(words::flag(*flag));
            }
            Told::Flag(flag) => self.warn(words::flag(*flag)),
        }
        if !entries.is_empty() {
            self.air_goes_on(entries);
        }
    }

    /// A test with air has come to this.
    pub(super) fn air_tested(&mut self, test: &AirTest) {
        if self.setup.replay {
            return;
        }
        let lines = words::test(test, self.setup.unit);
        let most = match test {
            AirTest::LeakDown { .. } => lines.first(),
            AirTest::Decay { .. } => lines.last(),
        };
        let advised = lines.last().filter(|_| !test.flags().is_empty());
        let notice: Vec<&str> = most
            .into_iter()
            .chain(advised)
            .map(String::as_str)
            .collect();
        self.notice = Some(notice.join(" "));
        for line in lines {
            self.say(line);
        }
    }

    pub(super) fn air_words(&self) -> (Tone, &'static str, String) {
        let Some(air) = &self.air else {
            return (Tone::Calm, "WAIT", "Wait.".to_owned());
        };
        let tone = if air.steps.fell_away() {
            Tone::Trouble
        } else {
            Tone::Calm
        };
        (tone, air.steps.headline(), air.steps.prompt())
    }

    /// That a leak-down test is proposed, and of which cylinder.
    pub(super) fn air_offer(&self) -> Option<String> {
        let name = self.worth_air().next()?;
        Some(format!("l: leak-down test of cylinder {name}."))
    }
}
