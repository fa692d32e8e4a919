//! A bench for the state machine: an invented engine and a stand-in for the analysis, which
//! answers as the pipeline does (one run after another, each with its index).

use needlerest::assess::{Assessment, Comparison, Judgement};
use needlerest::engine::{Condition, Cycle, EngineKind, Ignition, Rating};
use needlerest::session::{
    Announcement, Command, Entry, Input, Link, MadeRun, Output, Session, Setup, Stage,
};
use needlerest::signal::{
    Call, Event, Flag, Grade, Outcome, Reading, Rig, RunResult, Stroke, Turned, Zero,
};
use needlerest::units::{Pressure, PressureUnit, Time};

/// Share of the plateau that is still to climb after a stroke.
const LEFT: f64 = 0.4;
/// The stand-in calls a run settled at this stroke.
pub const SETTLES_AT: u32 = 5;

pub fn setup(cylinders: &[&str]) -> Setup {
    Setup {
        cylinders: cylinders.iter().map(|&c| c.to_owned()).collect(),
        kind: EngineKind {
            ignition: Some(Ignition::Spark),
            cycle: Some(Cycle::FourStroke),
            chamber_cm3: Some(40.0),
            ..EngineKind::default()
        },
        rating: Rating::Fit,
        first: Condition::ColdDry,
        unit: PressureUnit::KPa,
        zero_expected: Pressure::ZERO,
        cautions_read: false,
        air: needlerest::session::AirSetup::default(),
        replay: false,
        kept: Vec::new(),
    }
}

/// A session and its surroundings.
pub struct Bench {
    pub session: Session,
    /// Everything that the session put out.
    pub out: Vec<Output>,
    /// Every entry, as the recording has it.
    pub entries: Vec<Entry>,
    /// Label of each run in the findings.
    pub runs: Vec<(String, Condition)>,
    pub plateau: f64,
    pub rig: Rig,
    pub assess_as: Option<Assessment>,
    /// The tester leaks.
    pub leaks: bool,
    /// Runs that were voided after they had been made.
    pub voided: usize,
    cylinders: usize,
    now: f64,
    level: f64,
    strokes: Vec<Stroke>,
    settled: bool,
    announced: Option<(String, Condition)>,
    /// A test with air is under way: no strokes are looked for.
    air: bool,
}

impl Bench {
    pub fn new(setup: Setup) -> Self {
        Self {
            cylinders: setup.cylinders.len(),
            session: Session::new(setup),
            out: Vec::new(),
            entries: Vec::new(),
            runs: Vec::new(),
            plateau: 900e3,
            rig: Rig::Holding,
            assess_as: None,
            leaks: false,
            voided: 0,
            now: 0.0,
            level: 0.0,
            strokes: Vec::new(),
            settled: false,
            announced: None,
            air: false,
        }
    }

    /// Cautions read and zero known.
    pub fn ready(setup: Setup) -> Self {
        let mut bench = Self::new(setup);
        bench.command(Command::Go);
        bench.zero(0.0);
        bench
    }

    pub fn push(&mut self, input: Input<'_>) {
        let mut out = Vec::new();
        self.session.push(input, &mut out);
        for output in out {
            self.out.push(output.clone());
            if let Output::Record(entry) = output {
                self.entries.push(entry.clone());
                self.recorded(entry);
            }
        }
    }

    fn recorded(&mut self, entry: Entry) {
        match entry {
            Entry::Run {
                cylinder,
                condition,
            } => {
                if self.announced.is_some() || !self.strokes.is_empty() {
                    self.end_run();
                }
                self.announced = Some((cylinder, condition));
            }
            Entry::End if self.announced.is_some() || !self.strokes.is_empty() => self.end_run(),
            Entry::Name {
                run,
                cylinder,
                condition,
            } => {
                *self.runs.get_mut(run).expect("names a run that exists") = (cylinder, condition);
            }
            // One that waits for its first stroke is not made.
            Entry::Void { run, .. } if run == self.runs.len() => {
                assert!(self.strokes.is_empty(), "it has no stroke");
                assert!(self.announced.take().is_some(), "it was asked for");
            }
            Entry::Void { run, .. } => {
                assert!(run < self.runs.len(), "voids a run that exists");
                self.voided += 1;
            }
            Entry::LeakDown { .. } | Entry::Decay { .. } => {
                assert!(
                    self.announced.is_none(),
                    "no run waits for its first stroke"
                );
                if !self.strokes.is_empty() {
                    self.end_run();
                }
                self.air = true;
            }
            Entry::End if self.air => self.air = false,
            Entry::End
            | Entry::Air { .. }
            | Entry::Heard { .. }
            | Entry::Mark(_)
            | Entry::Note(_) => {}
        }
    }

    fn end_run(&mut self) {
        let label = self
            .announced
            .take()
            .unwrap_or_else(|| ("?".to_owned(), Condition::ColdDry));
        let index = self.runs.len();
        self.runs.push(label);
        let result = self.result();
        self.strokes.clear();
        self.settled = false;
        self.push(Input::RunEnded {
            index,
            result: &result,
        });
        let assessment = self.assess_as.clone().unwrap_or_else(sound);
        self.push(Input::Assessed(&assessment));
    }

    fn result(&self) -> RunResult {
        let last = self.strokes.last().map(|s| s.peak);
        let outcome = match (last, self.settled) {
            (None, _) => Outcome::NoReading,
            (Some(_), true) => Outcome::Settled,
            (Some(_), false) => Outcome::StillClimbing,
        };
        let mut flags = Vec::new();
        if outcome == Outcome::StillClimbing {
            let strokes = u32::try_from(self.strokes.len()).expect("few");
            flags.push(Flag::StoppedEarly { strokes });
        }
        if self.leaks {
            let per_second = Pressure::from_kpa(9.0);
            flags.push(Flag::TesterLeaks { per_second });
        }
        RunResult {
            started: Time::ZERO,
            ended: Time::from_s(self.now),
            rig: Some(self.rig),
            zero: zero_at(0.0),
            noise: Pressure::ZERO,
            strokes: self.strokes.clone(),
            turned: Turned::ByStarter,
            count: self.strokes.len() as u32,
            build_up: None,
            outcome,
            call: self.settled.then_some(CALL),
            reading: last.map(|value| reading(value, !self.settled)),
            cadence: None,
            droop: None,
            flags,
            grade: Grade::Good,
        }
    }

    pub fn zero(&mut self, level: f64) {
        let event = Event::Zeroed(zero_at(level));
        self.push(Input::Signal(&event));
    }

    pub fn wait(&mut self, seconds: f64) {
        let until = self.now + seconds;
        while self.now < until {
            self.now += 0.25;
            self.push(Input::Clock(Time::from_s(self.now)));
            let shown = if self.rig == Rig::Following {
                0.0
            } else {
                self.level
            };
            self.push(Input::Pressure(Pressure::from_pa(shown)));
        }
    }

    /// One stroke.
    pub fn crank(&mut self) {
        self.wait(0.5);
        if self.air {
            return;
        }
        let number = u32::try_from(self.strokes.len()).expect("few") + 1;
        let before = self.level;
        if self.rig == Rig::Holding {
            self.level = self
                .level
                .max(self.plateau - (self.plateau - self.level) * LEFT);
        } else {
            self.level = self.plateau * (1.0 - (0..number).map(|_| LEFT).product::<f64>());
        }
        let stroke = Stroke {
            number,
            time: Time::from_s(self.now),
            peak: Pressure::from_pa(self.level),
            rise: Pressure::from_pa(self.level - before),
            needle: Pressure::from_pa(self.level),
            count: number,
            interval: None,
            cut_off: Pressure::ZERO,
            packets_missing: false,
            clipped: false,
        };
        self.strokes.push(stroke);
        self.push(Input::Pressure(stroke.peak));
        if number == 1 {
            let event = Event::RigRecognised(self.rig);
            self.push(Input::Signal(&event));
        }
        self.push(Input::Signal(&Event::Stroke(stroke)));
        self.call(stroke);
    }

    fn call(&mut self, stroke: Stroke) {
        let climbs = stroke.rise.pa() > 0.05 * self.plateau;
        if self.settled && climbs {
            self.settled = false;
            let event = Event::Withdrawn {
                settled: stroke.peak - stroke.rise,
                now: stroke.peak,
            };
            self.push(Input::Signal(&event));
        } else if !self.settled && stroke.number >= SETTLES_AT && !climbs {
            self.settled = true;
            let event = Event::Settled {
                reading: reading(stroke.peak, false),
                call: CALL,
            };
            self.push(Input::Signal(&event));
        }
    }

    pub fn bleed(&mut self) {
        self.bleed_to(0.0);
    }

    /// Lets the pressure go, but for what is left.
    pub fn bleed_to(&mut self, left: f64) {
        let held = Pressure::from_pa(self.level);
        self.level = left;
        self.push(Input::Pressure(Pressure::from_pa(left)));
        if !self.strokes.is_empty() && self.rig == Rig::Holding {
            self.push(Input::Signal(&Event::Bled { held }));
            self.end_run();
        }
        self.wait(0.5);
    }

    pub fn leave_in_hose(&mut self, level: f64) {
        self.level = level;
    }

    /// What the stand-in said about a run.
    pub fn result_of(&self, made: &MadeRun) -> RunResult {
        RunResult {
            strokes: made.shown.iter().map(|level| stroke(*level)).collect(),
            outcome: Outcome::Settled,
            reading: made.reading.clone(),
            flags: Vec::new(),
            ..self.result()
        }
    }

    pub fn no_plan(&self) -> bool {
        self.cylinders == 0
    }

    /// A whole run, as the prompts ask for it.
    pub fn make_run(&mut self) {
        while matches!(self.session.stage(), Stage::Ready | Stage::Climbing) {
            self.crank();
        }
        self.wait(6.0);
        if self.rig == Rig::Holding {
            self.bleed();
        }
    }

    pub fn link(&mut self, link: Link) {
        self.push(Input::Link(link));
    }

    pub fn command(&mut self, command: Command) {
        self.push(Input::Command(command));
    }

    pub fn stage(&self) -> Stage {
        self.session.stage()
    }

    /// Cylinder and condition of the run that is asked for now.
    pub fn asked(&self) -> Option<(String, Condition)> {
        self.session.view().run
    }

    pub fn announced(&self, wanted: impl Fn(&Announcement) -> bool) -> usize {
        let told = |o: &&Output| matches!(o, Output::Announce(a) if wanted(a));
        self.out.iter().filter(told).count()
    }
}

/// The call that the stand-in makes.
const CALL: Call = Call {
    time: Time::ZERO,
    count: SETTLES_AT,
    unseen: 0,
};

fn stroke(level: Pressure) -> Stroke {
    Stroke {
        number: 1,
        time: Time::ZERO,
        peak: level,
        rise: Pressure::ZERO,
        needle: level,
        count: 1,
        interval: None,
        cut_off: Pressure::ZERO,
        packets_missing: false,
        clipped: false,
    }
}

pub fn reading(value: Pressure, climbing: bool) -> Reading {
    Reading {
        value,
        expanded: value * 0.01,
        expanded_relative: value * 0.01,
        heading: climbing.then(|| value * 1.1),
        budget: Vec::new(),
    }
}

/// An assessment in which one cylinder is low in a condition.
pub fn low(cylinder: &str, of: &str, condition: Condition) -> Assessment {
    Assessment {
        verdict: "uneven".to_owned(),
        judgement: Judgement::Fail,
        comparisons: vec![Comparison {
            condition,
            highest: of.to_owned(),
            highest_pressure: Pressure::from_kpa(900.0),
            lowest: cylinder.to_owned(),
            lowest_pressure: Pressure::from_kpa(600.0),
            share: 0.667,
            share_expanded: 0.01,
            corrected_share: None,
            judgement: Judgement::Fail,
        }],
        ..sound()
    }
}

/// An assessment in which nothing is low.
fn sound() -> Assessment {
    Assessment {
        verdict: "even".to_owned(),
        judgement: Judgement::Pass,
        score: None,
        score_expanded: None,
        cylinders: Vec::new(),
        comparisons: Vec::new(),
        findings: Vec::new(),
        expected: Vec::new(),
        disagreement: None,
        allowance: None,
        notes: Vec::new(),
        cannot_tell: Vec::new(),
        next_steps: Vec::new(),
        rule_set: String::new(),
    }
}

fn zero_at(level: f64) -> Zero {
    Zero {
        level: Pressure::from_pa(level),
        standard: Pressure::ZERO,
        measured: true,
    }
}
