//! Step by step through a test with air: what follows from the user's answers, from what the analysis
//! tells and from time. The guided visit and the command go the same way; what is asked is in `asked`.

use super::output::Entry;
use super::task::{AirAnswer, AirEngine, AirTask};
use crate::leakdown::{AirFlag, Filled, Place, Stage, Told};
use crate::units::Time;

/// A fall is watched for so long.
const FALL: Time = Time::from_s(20.0);
/// What came to rest is read for so long before the test goes on: the longer, the less the
/// regulator's wobble counts. (Our choice.)
const READ: Time = Time::from_s(3.0);

/// In a round, so long; never twice in a row the same, so that rounds do not fall into step with the
/// compressor. (Our choice.)
const READ_IN_ROUND: [Time; 4] = [
    Time::from_s(2.5),
    Time::from_s(4.0),
    Time::from_s(2.0),
    Time::from_s(5.0),
];
/// Most rounds of reading both sides in turn. (Our choice.)
const MOST_ROUNDS: usize = 4;

/// Where the test is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum At {
    /// Nothing under pressure: the sensor's zero.
    Rest,
    /// The supply is asked for, and read; before the cylinder and after it.
    AskSupply,
    Supply,
    /// The piston's place is asked for, and what the cylinder holds is read.
    Ask(Stage),
    Connected(Stage),
    Listen,
    /// Both sides are read in turn, the piston still at the top.
    Round(Turn),
    AskSupplyAfter,
    SupplyAfter,
    /// A decay test: fill, then watch the fall.
    Fill,
    Fall,
    /// The air is let out, and then.
    LetOut(Then),
    Over,
}

/// Where a round is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Turn {
    /// The cylinder's side is to be shut; the supply is read.
    Shut,
    Supply,
    /// It is to be opened again; the cylinder is read.
    Open,
    Cylinder,
}

/// What comes once the air is let out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Then {
    Next,
    /// The same once more, because the user wants it or because the piston was pushed off.
    Again,
    PushedOff,
    Leave,
}

/// The way through a test with air.
#[derive(Clone, Debug)]
pub struct AirSteps {
    pub(super) task: AirTask,
    pub(super) engine: AirEngine,
    /// Which of the cylinders.
    cylinder: usize,
    pub(super) at: At,
    pub(super) heard: Vec<Place>,
    /// To which share of itself the leak is known, where rounds would tell it better.
    pub(super) blurred: Option<f64>,
    /// Rounds made, and whether the piston was read beside the top.
    pub(super) rounds: usize,
    aside: bool,
    now: Time,
    /// When the step is over without an answer.
    due: Option<Time>,
}

impl AirSteps {
    /// At its beginning, on this engine.
    pub const fn new(task: AirTask, engine: AirEngine) -> Self {
        Self {
            task,
            engine,
            cylinder: 0,
            at: At::Rest,
            heard: Vec::new(),
            blurred: None,
            rounds: 0,
            aside: false,
            now: Time::ZERO,
            due: None,
        }
    }

    /// Whether it has come to its end.
    pub fn is_over(&self) -> bool {
        self.at == At::Over
    }

    /// Whether there may be air in hose and cylinder.
    pub fn is_under_way(&self) -> bool {
        !matches!(self.at, At::Rest | At::Over)
    }

    /// Whether this step may be left out.
    pub fn may_skip(&self) -> bool {
        matches!(
            self.at,
            At::Ask(Stage::Before | Stage::After) | At::Listen | At::Round(Turn::Shut | Turn::Open)
        )
    }

    /// Whether the air is to be let out because the pressure fell away.
    pub fn fell_away(&self) -> bool {
        self.at == At::LetOut(Then::PushedOff)
    }

    /// Whether it is asked where air is heard.
    pub fn listens(&self) -> bool {
        self.at == At::Listen
    }

    /// The places of which one may be named now; none unless it is asked where air is heard.
    pub fn places(&self) -> &[Place] {
        if self.listens() {
            &self.engine.places
        } else {
            &[]
        }
    }

    /// Where air is heard, as told so far.
    pub fn heard(&self) -> &[Place] {
        &self.heard
    }

    /// The cylinder under test; empty where none is.
    pub fn name(&self) -> &str {
        match &self.task {
            AirTask::LeakDown { cylinders, .. } => {
                cylinders.get(self.cylinder).map_or("", String::as_str)
            }
            AirTask::Decay { cylinder, .. } => cylinder.as_deref().unwrap_or(""),
        }
    }

    pub(super) fn is_of_tester(&self) -> bool {
        matches!(
            self.task,
            AirTask::Decay {
                filled: Filled::Tester,
                ..
            }
        )
    }

    /// The user answers; gives what goes into the recording.
    ///
    /// # Errors
    /// The answer is none to what is asked now; in words.
    pub fn answer(&mut self, answer: AirAnswer) -> Result<Vec<Entry>, String> {
        let mut done = Vec::new();
        match answer {
            AirAnswer::Go => self.go(&mut done),
            AirAnswer::Skip if self.may_skip() => self.skip(&mut done),
            AirAnswer::Skip => return Err("This step cannot be left out.".to_owned()),
            AirAnswer::Again => self.leave(Then::Again, &mut done),
            AirAnswer::Leave => self.leave(Then::Leave, &mut done),
            AirAnswer::Hear(place) if self.listens() => {
                self.fits(&[place])?;
                self.hear(place);
            }
            AirAnswer::Heard(places) if self.listens() => {
                self.fits(&places)?;
                self.heard = places;
                self.go(&mut done);
            }
            AirAnswer::Hear(_) | AirAnswer::Heard(_) => {
                return Err("Where air is heard is asked once the cylinder holds.".to_owned());
            }
        }
        Ok(done)
    }

    /// It is now this late; gives what goes into the recording.
    pub fn tick(&mut self, now: Time) -> Vec<Entry> {
        self.now = now;
        let mut done = Vec::new();
        if self.due.is_some_and(|due| now >= due) {
            self.go(&mut done);
        }
        done
    }

    /// The analysis has something to say.
    pub fn told(&mut self, told: &Told) -> Vec<Entry> {
        let mut done = Vec::new();
        let read = match (self.at, told) {
            (At::Supply | At::SupplyAfter, Told::Plateau(Stage::Supply, _)) => Some(READ),
            (At::Connected(stage), Told::Held(held)) if held.stage == stage => Some(READ),
            (At::Round(Turn::Cylinder), Told::Plateau(Stage::Top, _)) => Some(self.read_in_round()),
            // What this round came to is told when the supply has been read long enough.
            (At::Round(Turn::Supply), Told::Held(_)) => Some(Time::ZERO),
            _ => None,
        };
        if let Some(read) = read {
            self.due = Some(self.now + read);
        }
        match told {
            Told::Held(held) if held.stage == Stage::Top => self.blurred = None,
            Told::Blurred(share) => self.blurred = Some(*share),
            _ => {}
        }
        if matches!(told, Told::Flag(AirFlag::FellAway { .. }))
            && matches!(self.at, At::Connected(_) | At::Listen | At::Round(_))
        {
            self.leave(Then::PushedOff, &mut done);
        }
        done
    }

    fn go(&mut self, done: &mut Vec<Entry>) {
        self.due = None;
        match self.at {
            At::Rest => {
                done.push(self.begin());
                (self.blurred, self.rounds, self.aside) = (None, 0, false);
                self.at = match self.task {
                    AirTask::LeakDown { .. } => At::AskSupply,
                    AirTask::Decay { .. } => At::Fill,
                };
            }
            At::AskSupply => self.direct(Stage::Supply, At::Supply, done),
            At::Supply => self.at = At::Ask(Stage::Top),
            At::Ask(stage) => self.direct(stage, At::Connected(stage), done),
            // The air goes on while somebody listens where it goes.
            At::Connected(Stage::Top) => self.at = At::Listen,
            At::Connected(stage) => {
                self.aside = true;
                self.direct(Stage::Shut, after(stage), done);
            }
            At::Listen => {
                if !self.heard.is_empty() {
                    let places = std::mem::take(&mut self.heard);
                    done.push(Entry::Heard { places });
                }
                self.round_or_on(Stage::Supply, Turn::Shut, done);
            }
            At::Round(turn) => self.turn(turn, done),
            At::AskSupplyAfter => self.direct(Stage::Supply, At::SupplyAfter, done),
            At::SupplyAfter | At::Fall => self.leave(Then::Next, done),
            At::Fill => {
                self.direct(Stage::Shut, At::Fall, done);
                self.due = Some(self.now + FALL);
            }
            At::LetOut(then) => self.let_out(then, done),
            At::Over => {}
        }
    }

    /// A round goes on. That the valve is to be turned goes into the recording, and once more that it
    /// is: what is read between the two is neither side.
    fn turn(&mut self, turn: Turn, done: &mut Vec<Entry>) {
        match turn {
            Turn::Shut => self.direct(Stage::Supply, At::Round(Turn::Supply), done),
            Turn::Supply => {
                self.rounds += 1;
                self.round_or_on(Stage::Top, Turn::Open, done);
            }
            Turn::Open => self.direct(Stage::Top, At::Round(Turn::Cylinder), done),
            Turn::Cylinder => self.direct(Stage::Supply, At::Round(Turn::Shut), done),
        }
    }

    const fn read_in_round(&self) -> Time {
        READ_IN_ROUND[self.rounds % READ_IN_ROUND.len()]
    }

    /// The next round, where it is worth while; otherwise the air is shut off at the top.
    fn round_or_on(&mut self, stage: Stage, turn: Turn, done: &mut Vec<Entry>) {
        if self.blurred.is_some() && self.rounds <= MOST_ROUNDS {
            self.direct(stage, At::Round(turn), done);
        } else {
            self.direct(Stage::Shut, after(Stage::Top), done);
        }
    }

    /// Whether this engine has these places.
    fn fits(&self, places: &[Place]) -> Result<(), String> {
        let odd = places
            .iter()
            .find(|place| !self.engine.places.contains(place));
        odd.map_or(Ok(()), |odd| Err(odd.is_none_of(&self.engine.places)))
    }

    fn skip(&mut self, done: &mut Vec<Entry>) {
        match self.at {
            // The last round has read the supply already.
            At::Ask(Stage::After) if self.rounds > 0 && !self.aside => {
                self.leave(Then::Next, done);
            }
            At::Ask(stage) => self.at = after(stage),
            At::Round(_) => self.direct(Stage::Shut, after(Stage::Top), done),
            _ => {
                self.heard.clear();
                self.go(done);
            }
        }
    }

    fn hear(&mut self, place: Place) {
        let before = self.heard.len();
        self.heard.retain(|known| *known != place);
        if self.heard.len() == before {
            // Nowhere is nowhere else.
            self.heard
                .retain(|known| (*known == Place::Nowhere) == (place == Place::Nowhere));
            self.heard.push(place);
        }
    }

    fn direct(&mut self, stage: Stage, next: At, done: &mut Vec<Entry>) {
        done.push(Entry::Air { stage });
        self.at = next;
    }

    /// The air is to be let out before anything else, if there may be any.
    fn leave(&mut self, then: Then, done: &mut Vec<Entry>) {
        self.due = None;
        self.heard.clear();
        match (self.at, then) {
            (At::Rest, Then::Leave) => self.at = At::Over,
            (At::Rest | At::Over, _) => {}
            (At::LetOut(_), _) => self.at = At::LetOut(then),
            _ => self.direct(Stage::Shut, At::LetOut(then), done),
        }
    }

    /// The air is out.
    fn let_out(&mut self, then: Then, done: &mut Vec<Entry>) {
        done.push(Entry::End);
        let more = match &self.task {
            AirTask::LeakDown { cylinders, .. } => self.cylinder + 1 < cylinders.len(),
            AirTask::Decay { .. } => false,
        };
        self.at = match then {
            Then::Again | Then::PushedOff => At::Rest,
            Then::Next if more => {
                self.cylinder += 1;
                At::Rest
            }
            Then::Next | Then::Leave => At::Over,
        };
    }

    fn begin(&self) -> Entry {
        match &self.task {
            AirTask::LeakDown {
                condition,
                restrictor,
                ..
            } => Entry::LeakDown {
                cylinder: self.name().to_owned(),
                condition: *condition,
                restrictor: *restrictor,
            },
            AirTask::Decay {
                filled,
                cylinder,
                volume_cm3,
            } => Entry::Decay {
                filled: *filled,
                cylinder: cylinder.clone(),
                volume_cm3: *volume_cm3,
            },
        }
    }
}

/// What is asked for once the piston's place is done with.
const fn after(stage: Stage) -> At {
    match stage {
        Stage::Before => At::Ask(Stage::After),
        Stage::After => At::AskSupplyAfter,
        _ => At::Ask(Stage::Before),
    }
}
