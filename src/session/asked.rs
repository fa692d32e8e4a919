//! What a test with air asks of the user, step by step, for eye and ear.

use super::spoken::cylinder;
use super::steps::{AirSteps, At, Then, Turn};
use super::task::AirTask;
use crate::leakdown::{Stage, words};

impl AirSteps {
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
            // Turned anew, the regulator would give another supply than the cylinder had.
            At::AskSupplyAfter => {
                "Shut the cylinder's side, regulator untouched: the supply is read once more. Enter when \
                 shut."
                    .to_owned()
            }
            At::AskSupply => {
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
                words::stage(stage)
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
                "Crank locked, everybody clear: open the cylinder's side slowly. Enter when open. Or \
                 skip."
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
            At::AskSupplyAfter => "Shut the cylinder's side. Regulator untouched.".to_owned(),
            At::AskSupply => {
                "Shut the cylinder's side. Regulator up slowly, eighty p s i at most.".to_owned()
            }
            At::Ask(Stage::Top) => format!(
                "{of} to the top, compression stroke. Lock the crank. Wrench off. Stand clear. Then \
                 open slowly."
            ),
            At::Ask(stage) => format!(
                "Shut the cylinder's side. Piston {}. Lock the crank. Wrench off. Stand clear. Then \
                 open slowly. Or skip.",
                words::stage(stage)
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
