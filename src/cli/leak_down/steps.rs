//! Step by step through a test with air: what is asked of the user, and what follows from the answer.
//! No terminal and no clock here.

use crate::engine::Condition;
use crate::leakdown::{Filled, Place, Restrictor, Stage, Told};
use crate::recording::Event;

/// What is tested.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum What {
    /// Leak-down tests of these cylinders.
    LeakDown {
        cylinders: Vec<String>,
        condition: Condition,
        restrictor: Restrictor,
    },
    /// A decay test.
    Decay {
        filled: Filled,
        cylinder: Option<String>,
        volume_cm3: Option<f64>,
    },
}

/// Where the test is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum At {
    /// The regulator at zero, nothing connected: the sensor's zero.
    Rest,
    /// The supply is asked for, and watched; before the cylinder and after it.
    AskSupply,
    Supply,
    /// The piston's place is asked for, and the cylinder watched.
    Ask(Stage),
    Connected(Stage),
    Listen,
    AskSupplyAfter,
    SupplyAfter,
    /// A decay test: fill, then watch the fall.
    Fill,
    Fall,
    Over,
}

/// What is to be done about an answer.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Do {
    /// Write this into the recording.
    Record(Event),
    /// Say this.
    Say(String),
}

/// The way through the test.
#[derive(Clone, Debug)]
pub(super) struct Steps {
    what: What,
    /// Which of the cylinders.
    cylinder: usize,
    at: At,
}

impl Steps {
    pub(super) fn new(what: What) -> Self {
        Self {
            what,
            cylinder: 0,
            at: At::Rest,
        }
    }

    pub(super) fn is_over(&self) -> bool {
        self.at == At::Over
    }

    /// Whether a decay is being watched.
    pub(super) fn is_falling(&self) -> bool {
        self.at == At::Fall
    }

    fn name(&self) -> &str {
        match &self.what {
            What::LeakDown { cylinders, .. } => {
                cylinders.get(self.cylinder).map_or("", String::as_str)
            }
            What::Decay { cylinder, .. } => cylinder.as_deref().unwrap_or(""),
        }
    }

    /// What is asked of the user now.
    pub(super) fn prompt(&self) -> String {
        let name = self.name();
        match self.at {
            At::Rest => "Regulator at zero, nothing under pressure. Enter when so.".to_owned(),
            At::AskSupply | At::AskSupplyAfter => {
                "Shut the cylinder's side; turn the regulator up slowly, to 80 psi (552 kPa) at most. \
                 Enter when so."
                    .to_owned()
            }
            At::Supply | At::SupplyAfter => {
                "Reading the supply … (Enter goes on without its plateau)".to_owned()
            }
            At::Ask(Stage::Top) => format!(
                "Cylinder {name} to the top of its compression stroke, in the direction in which the \
                 engine turns. Wrench off the crank, crank locked, everybody clear. Enter, then open \
                 the cylinder's side slowly."
            ),
            At::Ask(stage) => format!(
                "If the engine allows it: shut the cylinder's side, bring the piston {}, lock the \
                 crank, wrench off. Enter, then open the cylinder's side slowly; or: skip.",
                crate::leakdown::words::stage(stage)
            ),
            At::Connected(_) => {
                "Waiting for the pressure to come to rest … (Enter goes on)".to_owned()
            }
            At::Listen => format!(
                "Where is air heard? The loudest first, with commas: {}. Or: skip.",
                Place::ALL.map(Place::word).join(", ")
            ),
            At::Fill => match &self.what {
                What::Decay {
                    filled: Filled::Tester,
                    ..
                } => {
                    "Plug the tester's end, fill it (regulator or pump), shut it off. Enter when shut."
                        .to_owned()
                }
                _ => format!(
                    "Cylinder {name} at the top of its compression stroke, crank locked, everybody \
                     clear. Fill it slowly, shut it off at the tester. Enter when shut."
                ),
            },
            At::Fall => "Watching it fall: 20 s … (Enter ends it)".to_owned(),
            At::Over => "Regulator to zero, let the hose empty, then take the tester off.".to_owned(),
        }
    }

    /// The user answers.
    pub(super) fn answer(&mut self, word: &str) -> Vec<Do> {
        let word = word.trim();
        let mut done = Vec::new();
        match self.at {
            At::Rest => {
                done.push(Do::Record(self.begin()));
                self.at = match self.what {
                    What::LeakDown { .. } => At::AskSupply,
                    What::Decay { .. } => At::Fill,
                };
            }
            At::AskSupply => self.direct(Stage::Supply, At::Supply, &mut done),
            At::Supply => self.at = At::Ask(Stage::Top),
            At::Ask(stage) if is(word, "skip") => self.at = after(stage),
            At::Ask(stage) => self.direct(stage, At::Connected(stage), &mut done),
            At::Connected(Stage::Top) => self.at = At::Listen,
            At::Connected(stage) => self.at = after(stage),
            At::Listen if is(word, "skip") || word.is_empty() => {
                self.at = At::Ask(Stage::Before);
            }
            At::Listen => match places(word) {
                Ok(places) => {
                    done.push(Do::Record(Event::Heard { places }));
                    self.at = At::Ask(Stage::Before);
                }
                Err(why) => done.push(Do::Say(why)),
            },
            At::AskSupplyAfter => self.direct(Stage::Supply, At::SupplyAfter, &mut done),
            At::SupplyAfter | At::Fall => self.next(&mut done),
            At::Fill => self.direct(Stage::Shut, At::Fall, &mut done),
            At::Over => {}
        }
        done
    }

    /// The analysis has something to say; what is waited for has come.
    pub(super) fn told(&self, told: Told) -> bool {
        match (self.at, told) {
            (At::Supply | At::SupplyAfter, Told::Plateau(Stage::Supply, _)) => true,
            (At::Connected(stage), Told::Held(held)) => held.stage == stage,
            _ => false,
        }
    }

    fn begin(&self) -> Event {
        match &self.what {
            What::LeakDown {
                condition,
                restrictor,
                ..
            } => Event::LeakDown {
                cylinder: self.name().to_owned(),
                condition: *condition,
                restrictor: *restrictor,
            },
            What::Decay {
                filled,
                cylinder,
                volume_cm3,
            } => Event::Decay {
                filled: *filled,
                cylinder: cylinder.clone(),
                volume_cm3: *volume_cm3,
            },
        }
    }

    fn direct(&mut self, stage: Stage, next: At, done: &mut Vec<Do>) {
        done.push(Do::Record(Event::Air { stage }));
        self.at = next;
    }

    /// The next cylinder, or the end.
    fn next(&mut self, done: &mut Vec<Do>) {
        done.push(Do::Record(Event::Air { stage: Stage::Shut }));
        done.push(Do::Record(Event::End));
        let more = match &self.what {
            What::LeakDown { cylinders, .. } => self.cylinder + 1 < cylinders.len(),
            What::Decay { .. } => false,
        };
        if more {
            self.cylinder += 1;
            self.at = At::Rest;
        } else {
            self.at = At::Over;
        }
    }
}

const fn after(stage: Stage) -> At {
    match stage {
        Stage::Before => At::Ask(Stage::After),
        Stage::After => At::AskSupplyAfter,
        _ => At::Listen,
    }
}

fn is(word: &str, wanted: &str) -> bool {
    word.eq_ignore_ascii_case(wanted)
}

/// Places as the user writes them.
fn places(text: &str) -> Result<Vec<Place>, String> {
    let mut found = Vec::new();
    for word in text.split([',', ' ']).filter(|word| !word.is_empty()) {
        let place = Place::ALL.into_iter().find(|place| is(word, place.word()));
        let Some(place) = place else {
            let known = Place::ALL.map(Place::word).join(", ");
            return Err(format!("\"{word}\" is no place; the places are {known}"));
        };
        if !found.contains(&place) {
            found.push(place);
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn leak_down() -> Steps {
        let what = What::LeakDown {
            cylinders: vec!["1".to_owned(), "2".to_owned()],
            condition: Condition::ColdDry,
            restrictor: "1.0 mm".parse().expect("a restrictor"),
        };
        Steps::new(what)
    }

    fn events(steps: &mut Steps, words: &[&str]) -> Vec<Event> {
        let done = words.iter().flat_map(|word| steps.answer(word));
        done.filter_map(|one| match one {
            Do::Record(event) => Some(event),
            Do::Say(_) => None,
        })
        .collect()
    }

    #[test]
    fn two_cylinders_are_led_through_to_the_end() {
        let mut steps = leak_down();
        let one = [
            "",
            "",
            "",
            "",
            "",
            "exhaust, breather",
            "skip",
            "skip",
            "",
            "",
        ];
        let first = events(&mut steps, &one);
        let stages: Vec<Stage> = first
            .iter()
            .filter_map(|event| match event {
                Event::Air { stage } => Some(*stage),
                _ => None,
            })
            .collect();
        assert_eq!(
            stages,
            [Stage::Supply, Stage::Top, Stage::Supply, Stage::Shut]
        );
        let places = vec![Place::Exhaust, Place::Breather];
        assert!(first.contains(&Event::Heard { places }));
        assert_eq!(first.last(), Some(&Event::End));
        assert!(!steps.is_over());
        assert!(steps.prompt().contains("zero"));
        events(&mut steps, &one);
        assert!(steps.is_over());
    }

    #[test]
    fn a_place_that_is_none_is_asked_for_again() {
        let mut steps = leak_down();
        events(&mut steps, &["", "", "", "", ""]);
        let said = steps.answer("everywhere");
        assert!(matches!(&said[..], [Do::Say(why)] if why.contains("next-hole")));
        assert!(steps.prompt().contains("Where is air heard?"));
    }

    #[test]
    fn a_tester_is_filled_shut_and_watched() {
        let what = What::Decay {
            filled: Filled::Tester,
            cylinder: None,
            volume_cm3: Some(40.0),
        };
        let mut steps = Steps::new(what);
        let done = events(&mut steps, &["", ""]);
        assert_eq!(done.last(), Some(&Event::Air { stage: Stage::Shut }));
        assert!(steps.is_falling());
        events(&mut steps, &[""]);
        assert!(steps.is_over());
    }
}
