//! Where the session stands, in words: a headline that can be read from three metres, and the next
//! thing to do in one line.

use super::input::Link;
use super::state::{Current, MadeRun, RunState, Session, Stage};
use super::words;
use crate::engine::Condition;

/// What kind of news the headline is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tone {
    /// Wait, or read.
    Calm,
    /// Do it: crank, fit, bleed.
    Go,
    /// Stop cranking: settled.
    Stop,
    /// Something is wrong.
    Trouble,
}

/// Where the session stands, in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct View {
    /// Where it stands.
    pub stage: Stage,
    /// What kind of news the headline is.
    pub tone: Tone,
    /// One or two words in capitals.
    pub headline: &'static str,
    /// The next thing to do, in one line; never empty.
    pub next: String,
    /// Why this run is made, or what went wrong.
    pub note: Option<String>,
    /// Cylinder and condition of the run in hand.
    pub run: Option<(String, Condition)>,
    /// Number of the run in hand, and of how many that are planned.
    pub count: (usize, usize),
}

impl Session {
    /// Where the session stands, in words.
    pub fn view(&self) -> View {
        let (tone, headline, next) = self.words();
        let run = self
            .current
            .as_ref()
            .map(|c| (c.planned.cylinder.clone(), c.planned.condition));
        let why = self.current.as_ref().and_then(|c| c.planned.why.as_ref());
        let why = why.map(|why| format!("Why this run: {why}"));
        let about_run = joined(self.oil_note(), why).filter(|_| self.stage == Stage::Ready);
        let made = self.made.iter().filter(|m| counts(m)).count();
        let to_come = self.plan.queue().count() + usize::from(self.current.is_some());
        View {
            stage: self.stage,
            tone,
            headline,
            next,
            note: self.air_note().or_else(|| {
                joined(self.notice.clone().or_else(|| self.did()), about_run)
                    .or_else(|| self.offer_note())
            }),
            count: (made + usize::from(run.is_some()), made + to_come),
            run,
        }
    }

    fn words(&self) -> (Tone, &'static str, String) {
        match self.link {
            Link::Lost if self.needs_link() => return self.without_link(),
            Link::Silent if self.needs_link() => {
                let next = "Nothing comes from the sensor: is it on? Wait for it, do not crank.";
                return (Tone::Trouble, "NO SIGNAL", next.to_owned());
            }
            _ => {}
        }
        if self.is_resting() {
            return self.resting_words();
        }
        match self.stage {
            Stage::Cautions => (
                Tone::Calm,
                "READ FIRST",
                "Read the cautions, then press Enter.".to_owned(),
            ),
            Stage::Zero => self.zero_words(),
            Stage::Ready => self.ready_words(),
            Stage::Climbing => self.climbing_words(),
            Stage::Hold => (
                Tone::Stop,
                "STOP",
                format!(
                    "Stop {}. Hands off while the tester is checked for a leak.",
                    self.verb().going_on
                ),
            ),
            Stage::Bleed => self.bleed_words(),
            Stage::AirCautions => (
                Tone::Calm,
                "READ FIRST",
                "Air turns the crank. Read the cautions about it, then press Enter.".to_owned(),
            ),
            Stage::Air => self.air_words(),
            Stage::Offer => self.offer_words(),
            Stage::Naming => self.naming_words(),
            Stage::Finished => (
                Tone::Calm,
                "FINISHED",
                "That is all. Put back what was taken out; the report comes next.".to_owned(),
            ),
        }
    }

    /// What a key would do; nothing in a replay, which is only watched.
    pub(super) fn key(&self, hint: &'static str) -> &'static str {
        if self.setup.replay { "" } else { hint }
    }

    pub(super) fn needs_link(&self) -> bool {
        self.stage > Stage::Cautions && self.stage < Stage::Offer
    }

    fn without_link(&self) -> (Tone, &'static str, String) {
        let next = match self.stage {
            Stage::Climbing => "Link lost. Stop cranking; go on when it is back.",
            Stage::AirCautions | Stage::Air => {
                "Link lost. Regulator to zero, and stay clear, until it is back."
            }
            Stage::Hold | Stage::Bleed => "Link lost. Leave the pressure on until it is back.",
            _ => "Link lost. Do not crank yet; bring the computer nearer to the sensor.",
        };
        (Tone::Trouble, "LINK LOST", next.to_owned())
    }

    fn zero_words(&self) -> (Tone, &'static str, String) {
        match self.left_over {
            Some(left) => (
                Tone::Trouble,
                "BLEED",
                format!(
                    "{} in the hose: bleed it to zero.{}",
                    left.show(self.setup.unit),
                    self.key(" (Enter: take it as zero.)")
                ),
            ),
            None => (
                Tone::Calm,
                "ZERO",
                "Leave the sensor open to the air and still, for its zero.".to_owned(),
            ),
        }
    }

    /// What somebody does who turns this engine: `crank`, `kick` or `pull`.
    pub fn turns(&self) -> &'static str {
        self.verb().base
    }

    pub(super) fn verb(&self) -> words::Verb {
        words::verb(self.setup.kind.start)
    }

    fn climbing_words(&self) -> (Tone, &'static str, String) {
        let verb = self.verb();
        let paused = self.current.as_ref().is_some_and(|c| c.paused);
        if paused {
            let next = format!(
                "Still climbing: {} on, do not bleed. If it stops climbing, bleed.",
                verb.base
            );
            return (Tone::Go, verb.go_on, next);
        }
        let count = self.current.as_ref().and_then(|c| c.count);
        let start = self.setup.kind.start;
        let waits = count.as_ref().and_then(|count| words::to_go(count, start));
        (
            Tone::Go,
            verb.order,
            waits.unwrap_or_else(|| format!("Keep {} until the screen says STOP.", verb.going_on)),
        )
    }

    fn bleed_words(&self) -> (Tone, &'static str, String) {
        let Some(current) = &self.current else {
            let held = self.pressure.map(|p| p.show(self.setup.unit));
            let held = held.unwrap_or_else(|| "some pressure".to_owned());
            let key = self.key(" (Enter: go on.)");
            let next = format!("Still {held} in the hose: bleed it right off.{key}");
            return (Tone::Go, "BLEED", next);
        };
        let follows = self.rig == Some(crate::signal::Rig::Following);
        match (follows, current.given_up) {
            (true, _) => (
                Tone::Stop,
                "STOP",
                format!("Stop {} and take the sensor out.", self.verb().going_on),
            ),
            (false, Some(_)) => (
                Tone::Go,
                "BLEED",
                "This run does not count. Bleed the pressure off.".to_owned(),
            ),
            (false, None) => (Tone::Go, "BLEED", bleed_next(current)),
        }
    }

    fn offer_words(&self) -> (Tone, &'static str, String) {
        let air = self.air_offer().filter(|_| !self.setup.replay);
        let next = if self.setup.replay {
            "No more runs planned; the recording goes on."
        } else if let Some(air) = air {
            let next = format!("All runs made. {air} f: finish and report.");
            return (Tone::Calm, "RUNS MADE", next);
        } else if self.plan.round() == Condition::ColdDry {
            "All runs made. f: finish and report. w: a warm round first."
        } else {
            "All runs made. f: finish and report. r: the last one again."
        };
        (Tone::Calm, "RUNS MADE", next.to_owned())
    }

    /// What was read last in the test with air, unless something is the matter.
    fn air_note(&self) -> Option<String> {
        let air = self.air.as_ref().filter(|_| self.stage == Stage::Air)?;
        air.note.clone().filter(|_| self.notice.is_none())
    }

    /// Why there is no wet run, though a cylinder is low.
    fn offer_note(&self) -> Option<String> {
        let offered = self.stage == Stage::Offer && self.oil_refused;
        self.why_no_oil().filter(|_| offered).map(str::to_owned)
    }

    fn naming_words(&self) -> (Tone, &'static str, String) {
        let unnamed = self.made.iter().find(|m| !m.named && counts(m));
        let which = unnamed.map_or_else(String::new, |run| {
            let read = run.reading.as_ref();
            let read = read.map_or_else(String::new, |r| {
                format!(" ({})", r.value.show(self.setup.unit))
            });
            format!("{}{read}", run.cylinder)
        });
        (
            Tone::Calm,
            "NAMES",
            format!(
                "Which cylinder was {which}?{}",
                self.key(" n: name it. Enter: leave it so.")
            ),
        )
    }
}

fn joined(one: Option<String>, other: Option<String>) -> Option<String> {
    match (one, other) {
        (Some(one), Some(other)) => Some(format!("{one} {other}")),
        (one, other) => one.or(other),
    }
}

fn bleed_next(current: &Current) -> String {
    match &current.settled {
        Some(_) => "Bleed the pressure off, then unscrew the sensor.".to_owned(),
        None => "Bleed the pressure off.".to_owned(),
    }
}

fn counts(run: &MadeRun) -> bool {
    !matches!(run.state, RunState::Void(_))
}
