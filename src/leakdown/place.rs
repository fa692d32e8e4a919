//! Where air is heard to leave, and where it can be heard on this engine.

use crate::engine::{Cooling, Cycle, Ignition, JobCard};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Where air is heard to leave.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Place {
    /// Carburettor or intake; of a two-stroke what comes out of its crankcase as well.
    Intake,
    /// Exhaust; of a two-stroke its port.
    Exhaust,
    /// Crankcase breather or oil filler.
    Breather,
    /// Bubbles in the coolant.
    Coolant,
    /// The next cylinder's plug hole.
    NextHole,
    /// Nowhere.
    Nowhere,
}

impl Place {
    /// Every place, in the order in which they are asked for.
    pub const ALL: [Self; 6] = [
        Self::Intake,
        Self::Exhaust,
        Self::Breather,
        Self::Coolant,
        Self::NextHole,
        Self::Nowhere,
    ];

    /// The places that this engine has; without a card, every one. A two-stroke breathes through its
    /// crankcase and has no breather, an engine cooled by air has no coolant, a single no next hole.
    pub fn of(card: Option<&JobCard>) -> Vec<Self> {
        let has = |place: &Self| {
            card.is_none_or(|card| match place {
                Self::Breather => !breathes_through_crankcase(card),
                Self::Coolant => card.engine.cooling != Some(Cooling::Air),
                Self::NextHole => card.cylinders.len() > 1,
                Self::Intake | Self::Exhaust | Self::Nowhere => true,
            })
        };
        Self::ALL.into_iter().filter(has).collect()
    }

    /// As it is written in a recording and on the command line.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Intake => "intake",
            Self::Exhaust => "exhaust",
            Self::Breather => "breather",
            Self::Coolant => "coolant",
            Self::NextHole => "next-hole",
            Self::Nowhere => "nowhere",
        }
    }

    /// In a sentence: "heard at …".
    pub const fn said(self) -> &'static str {
        match self {
            Self::Intake => "the carburettor or intake",
            Self::Exhaust => "the exhaust",
            Self::Breather => "the crankcase breather or oil filler",
            Self::Coolant => "the coolant, as bubbles",
            Self::NextHole => "the next plug hole",
            Self::Nowhere => "nowhere",
        }
    }

    /// That air is not heard here on an engine that has only these places; in words.
    pub fn is_none_of(self, places: &[Self]) -> String {
        let known: Vec<&str> = places.iter().map(|place| place.word()).collect();
        format!(
            "This engine has no \"{}\" to hear air at; the places that fit are {}.",
            self.word(),
            known.join(", ")
        )
    }
}

/// Whether it is a two-stroke that breathes through its crankcase; one that is a diesel has a blower.
pub fn breathes_through_crankcase(card: &JobCard) -> bool {
    card.engine.cycle == Cycle::TwoStroke && card.engine.ignition != Ignition::Compression
}
