//! Step by step through a test with air: what is asked of the user, and what follows from the answer
//! and from time. The guided visit and the command go the same way.

use super::output::Entry;
use super::spoken::cylinder;
use crate::engine::{Condition, JobCard};
use crate::leakdown::{
    AirFlag, Filled, Place, Restrictor, Stage, Told, breathes_through_crankcase,
};
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

/// What is tested with air.
#[derive(Clone, Debug, PartialEq)]
pub enum AirTask {
    /// Leak-down tests of these cylinders.
    LeakDown {
        /// Their names.
        cylinders: Vec<String>,
        /// The engine's condition.
        condition: Condition,
        /// The restrictor before the sensor.
        restrictor: Restrictor,
    },
    /// A decay test.
    Decay {
        /// What is filled.
        filled: Filled,
        /// The cylinder, where one is.
        cylinder: Option<String>,
        /// What is filled, in cm³, where it is known.
        volume_cm3: Option<f64>,
    },
}

/// What a test with air needs to know of the engine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AirEngine {
    /// Where air can be heard, in the order asked.
    pub places: Vec<Place>,
    /// It breathes through its crankcase: what passes the rings goes there.
    pub through_crankcase: bool,
}

impl AirEngine {
    /// As the card says; without one, an engine that has every place.
    pub fn of(card: Option<&JobCard>) -> Self {
        Self {
            places: Place::of(card),
            through_crankcase: card.is_some_and(breathes_through_crankcase),
        }
    }
}

impl Default for AirEngine {
    fn default() -> Self {
        Self::of(None)
    }
}

/// What the user answers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum AirAnswer {
    /// Done, or: go on.
    Go,
    /// Leave this step out.
    Skip,
    /// This test again, from its beginning.
    Again,
    /// No more of it.
    Leave,
    /// Air is heard here; once more: it is not.
    Hear(Place),
    /// Air is heard here, the loudest first, and that is all.
    Heard(Vec<Place>),
}

/// Where the test is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum At {
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
enum Turn {
    /// The cylinder's side is to be shut; the supply is read.
    Shut,
    Supply,
    /// It is to be opened again; the cylinder is read.
    Open,
    Cylinder,
}

/// What comes once the air is let out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Then {
    Next,
    /// The same once more, because the user wants it or because the piston was pushed off.
    Again,
    PushedOff,
    Leave,
}

/// The way through a test with air.
#[derive(Clone, Debug)]
pub struct AirSteps {
    task: AirTask,
    engine: AirEngine,
    /// Which of the cylinders.
    cylinder: usize,
    at: At,
    heard: Vec<Place>,
    /// To which share of itself the leak is known, where rounds would tell it better.
    blurred: Option<f64>,
    /// Rounds made, and whether the piston was read beside the top.
    rounds: usize,
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

    fn is_of_tester(&self) -> bool {
        matches!(
            self.task,
            AirTask::Decay {
                filled: Filled::Tester,
                ..
            }
        )
    }

    /// In one or two words, from afar.
    pub fn headline(&self) -> &'static str {
        match self.at {
            At::AskSupply | At::AskSupplyAfter => "SUPPLY",
            At::Supply
            | At::Connected(_)
            | At::Round(Turn::Supply | Turn::Cylinder)
            | At::SupplyAfter
            | At::Fall => "WAIT",
            At::Round(Turn::Shut) => "SHUT SIDE",
            At::Round(Turn::Open) => "OPEN SIDE",
            At::Ask(Stage::Before) => "BEFORE TOP",
            At::Ask(Stage::After) => "AFTER TOP",
            At::Ask(_) => "TO THE TOP",
            At::Listen => "LISTEN",
            At::Fill => "FILL",
            At::Rest | At::LetOut(_) => "AIR OFF",
            At::Over => "DONE",
        }
    }

    /// What is asked of the user now.
    pub fn prompt(&self) -> String {
        let name = self.name();
        match self.at {
            At::Rest => self.made_ready(),
            At::AskSupply | At::AskSupplyAfter => {
                "Shut the cylinder's side. Turn the regulator up slowly, to 80 psi (552 kPa) at \
                 most. Enter when so."
                    .to_owned()
            }
            At::Supply | At::SupplyAfter => {
                "Hands off while the supply is read. (Enter: go on without it.)".to_owned()
            }
            At::Ask(Stage::Top) => format!(
                "Turn cylinder {name} to the top of its compression stroke, the way the engine \
                 turns. Lock the crank, wrench off, everybody clear. Enter, then open the \
                 cylinder's side slowly."
            ),
            At::Ask(stage) => format!(
                "If the engine allows it: shut the cylinder's side, let the cylinder empty, turn \
                 the piston to {}. Lock the crank, wrench off, everybody clear. Enter, then open \
                 the cylinder's side slowly. Or skip.",
                crate::leakdown::words::stage(stage)
            ),
            At::Connected(_) => {
                "Stay clear until the pressure has come to rest. (Enter: go on without it.)"
                    .to_owned()
            }
            At::Listen => self.where_heard(),
            At::Round(turn) => self.turned(turn),
            At::Fill if self.is_of_tester() => {
                "Fill the tester slowly, 80 psi (552 kPa) at most, and shut it off. Enter when shut."
                    .to_owned()
            }
            At::Fill => format!(
                "Turn cylinder {name} to the top of its compression stroke. Lock the crank, wrench \
                 off, everybody clear. Fill it slowly, 80 psi (552 kPa) at most, and shut it off. \
                 Enter when shut."
            ),
            At::Fall => "Hands off: its fall is watched for 20 s. (Enter: that is enough.)".to_owned(),
            At::LetOut(then) => let_out(then, self.is_of_tester()),
            At::Over => "The test with air is over.".to_owned(),
        }
    }

    fn made_ready(&self) -> String {
        let name = self.name();
        match &self.task {
            AirTask::LeakDown { restrictor, .. } => format!(
                "Leak-down test of cylinder {name}: regulator, {} mm restrictor, sensor, cylinder, in \
                 this order. {}Regulator at zero, nothing under pressure. Enter when so.",
                restrictor.diameter_mm,
                if self.engine.through_crankcase {
                    "Crankcase open to the air, by its drain or with carburettor and reed off: what \
                     passes the rings must get out, or it pushes out the crank's seals and reads as \
                     no leak. "
                } else {
                    ""
                }
            ),
            AirTask::Decay { .. } if self.is_of_tester() => {
                "Is the tester tight? Plug its end. Nothing under pressure yet. Enter when so."
                    .to_owned()
            }
            AirTask::Decay { .. } => format!(
                "Decay test of cylinder {name}: sensor and a valve that shuts, at its hole. Nothing \
                 under pressure yet. Enter when so."
            ),
        }
    }

    fn turned(&self, turn: Turn) -> String {
        match turn {
            Turn::Shut if self.rounds == 0 => {
                let known = self
                    .blurred
                    .map_or(100.0, |share| (100.0 * share).min(100.0));
                format!(
                    "The supply moves, so the leak is known to ±{known:.0} %. Reading supply and cylinder \
                     in turn, up to five times, tells it better. Crank locked, everybody clear, as before: shut \
                     the cylinder's side, regulator untouched. Enter when shut. Or skip."
                )
            }
            Turn::Shut => "Shut the cylinder's side. Enter when shut. Or skip.".to_owned(),
            Turn::Open => {
                "Crank locked, everybody clear: open the cylinder's side slowly. Enter when \
                           open. Or skip."
                    .to_owned()
            }
            Turn::Supply => {
                "Stay clear while the supply is read. (Enter: go on without it.)".to_owned()
            }
            Turn::Cylinder => {
                "Stay clear while the cylinder is read. (Enter: go on without it.)".to_owned()
            }
        }
    }

    fn where_heard(&self) -> String {
        let told = match &self.heard[..] {
            [] => String::new(),
            heard => format!(
                " So far: {}.",
                heard
                    .iter()
                    .map(|p| p.word())
                    .collect::<Vec<_>>()
                    .join(", ")
            ),
        };
        let places = self.engine.places.iter().zip(1..);
        let places: Vec<String> = places
            .map(|(place, n)| format!("{n} {}", place.word()))
            .collect();
        format!(
            "Where is air heard? Listen from a distance. The loudest first: {}. Then Enter.{told}",
            places.join(", ")
        )
    }

    /// The same for whoever has no eye on the screen.
    pub fn spoken(&self) -> String {
        let of = cylinder(self.name());
        match self.at {
            At::Rest if self.is_of_tester() => "Plug the tester's end. No pressure.".to_owned(),
            At::Rest => format!("{of}, test with air. Regulator at zero."),
            At::AskSupply | At::AskSupplyAfter => {
                "Shut the cylinder's side. Regulator up slowly, eighty p s i at most.".to_owned()
            }
            At::Ask(Stage::Top) => format!(
                "{of} to the top, compression stroke. Lock the crank. Wrench off. Stand clear. Then \
                 open slowly."
            ),
            At::Ask(stage) => format!(
                "Shut the cylinder's side. Piston {}. Lock the crank. Wrench off. Stand clear. Then \
                 open slowly. Or skip.",
                crate::leakdown::words::stage(stage)
            ),
            At::Supply | At::SupplyAfter | At::Fall => "Hands off. Wait.".to_owned(),
            At::Connected(_) | At::Round(Turn::Supply | Turn::Cylinder) => {
                "Stay clear. Wait.".to_owned()
            }
            At::Round(Turn::Shut) if self.rounds == 0 => {
                "The supply moves. Read both sides in turn. Stay clear of the crank. Shut the \
                 cylinder's side. Or skip."
                    .to_owned()
            }
            At::Round(Turn::Shut) => "Shut the cylinder's side.".to_owned(),
            At::Round(Turn::Open) => "Stay clear. Open the cylinder's side slowly.".to_owned(),
            At::Listen => "Where is air heard?".to_owned(),
            At::Fill if self.is_of_tester() => "Fill the tester slowly. Shut it off.".to_owned(),
            At::Fill => format!(
                "{of} to the top, compression stroke. Lock the crank. Wrench off. Stand clear. Fill \
                 it slowly. Shut it off."
            ),
            At::LetOut(Then::PushedOff) => {
                "Regulator to zero. Let the air out. Hands off the crank.".to_owned()
            }
            At::LetOut(_) => "Regulator to zero. Let the air out.".to_owned(),
            At::Over => String::new(),
        }
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

fn let_out(then: Then, of_tester: bool) -> String {
    let what = if of_tester {
        "Let the air out of the tester."
    } else {
        "Regulator to zero, let hose and cylinder empty."
    };
    match then {
        Then::PushedOff => format!(
            "The pressure fell away. {what} Hands off the crank until it is empty. Then turn it back \
             half a turn or more, and to the top again. Enter when empty: the test begins again."
        ),
        Then::Again => format!("{what} Enter when empty: the test begins again."),
        Then::Next | Then::Leave if of_tester => {
            format!("{what} Then take the plug off its end. Enter when so.")
        }
        Then::Next | Then::Leave => format!("{what} Then take the tester off. Enter when so."),
    }
}

impl AirAnswer {
    /// What a user who writes may answer: nothing (go on), a word, or places, by word or by number of
    /// those that the engine has.
    ///
    /// # Errors
    /// It is none of them; in words.
    pub fn parse(text: &str, known: &[Place]) -> Result<Self, String> {
        let text = text.trim().to_ascii_lowercase();
        match text.as_str() {
            "" | "go" => return Ok(Self::Go),
            "skip" => return Ok(Self::Skip),
            "again" | "redo" => return Ok(Self::Again),
            "leave" => return Ok(Self::Leave),
            _ => {}
        }
        let mut found = Vec::new();
        for word in text.split([',', ' ']).filter(|word| !word.is_empty()) {
            let nth = word.parse::<usize>().ok().and_then(|n| n.checked_sub(1));
            let by_number = nth.and_then(|nth| known.get(nth).copied());
            let by_word = || Place::ALL.into_iter().find(|place| place.word() == word);
            let Some(place) = by_number.or_else(by_word) else {
                let known: Vec<&str> = known.iter().map(|place| place.word()).collect();
                let places = match &known[..] {
                    [] => String::new(),
                    known => format!("; the places where air is heard are {}", known.join(", ")),
                };
                return Err(format!(
                    "\"{word}\" is not understood. Enter goes on; other words are skip, again, \
                     leave{places}."
                ));
            };
            if !found.contains(&place) {
                found.push(place);
            }
        }
        Ok(Self::Heard(found))
    }
}
