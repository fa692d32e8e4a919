//! What the guided run asks its surroundings to do.

use crate::engine::Condition;
use crate::leakdown::{Filled, Place, Restrictor, Stage};
use crate::units::Pressure;

/// One thing to be done.
#[derive(Clone, Debug, PartialEq)]
pub enum Output {
    /// Write this into the recording, now.
    Record(Entry),
    /// Tell the user, loudly.
    Announce(Announcement),
    /// One line for the plain mode, a screen reader or a log.
    Say(String),
}

/// What is written into the recording.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// A run begins.
    Run {
        /// Name of the cylinder.
        cylinder: String,
        /// The engine's condition.
        condition: Condition,
    },
    /// The run is over, though no bleed shows it (following rig, or given up).
    End,
    /// A run does not count.
    Void {
        /// Its index in the findings.
        run: usize,
        /// Why.
        reason: String,
    },
    /// A run is named after it was made.
    Name {
        /// Its index in the findings.
        run: usize,
        /// Name of the cylinder.
        cylinder: String,
        /// The engine's condition.
        condition: Condition,
    },
    /// A leak-down test begins: what comes until the end is no cranking.
    LeakDown {
        /// Name of the cylinder.
        cylinder: String,
        /// The engine's condition.
        condition: Condition,
        /// The restrictor before the sensor.
        restrictor: Restrictor,
    },
    /// A decay test begins, in the same way.
    Decay {
        /// What is filled.
        filled: Filled,
        /// The cylinder, where one is.
        cylinder: Option<String>,
        /// What is filled, in cm³, where it is known.
        volume_cm3: Option<f64>,
    },
    /// What is done with the air from now on.
    Air {
        /// The stage of the test.
        stage: Stage,
    },
    /// Where air is heard to leave.
    Heard {
        /// The loudest first.
        places: Vec<Place>,
    },
    /// A moment to remember.
    Mark(String),
    /// The user's words.
    Note(String),
}

/// What must not be missed.
#[derive(Clone, Debug, PartialEq)]
pub enum Announcement {
    /// Stop cranking: the reading has settled.
    Settled {
        /// The reading, gauge.
        value: Pressure,
        /// In words, as a voice should say it.
        text: String,
    },
    /// The reading climbs again: go on cranking.
    Withdrawn,
    /// The link to the sensor is lost.
    LinkLost,
    /// The run went wrong and is offered again.
    Again,
    /// Cranking goes on though it should not.
    StillCranking,
    /// In a test with air the pressure fell away: the air must be shut off.
    AirOff,
    /// The session is over.
    Finished,
    /// What is to be done next: for a voice, no alarm.
    Next(String),
}

impl Announcement {
    /// Whether it must be noticed, not only heard.
    pub const fn is_loud(&self) -> bool {
        !matches!(self, Self::Next(_))
    }

    /// As a voice says it.
    pub fn spoken(&self) -> &str {
        match self {
            Self::Settled { text, .. } | Self::Next(text) => text,
            Self::Withdrawn => "Not settled. Keep cranking.",
            Self::LinkLost => "Link lost.",
            Self::Again => "That run went wrong. Once more.",
            Self::StillCranking => "Stop cranking.",
            Self::AirOff => "Air off. Hands off the crank.",
            Self::Finished => "Finished.",
        }
    }
}
