//! What is tested with air, on what engine, and what the user may answer.

use crate::engine::{Condition, JobCard};
use crate::leakdown::{Filled, Place, Restrictor, breathes_through_crankcase};

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
