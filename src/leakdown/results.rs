//! What comes of a test with air.

use super::decay::DecayResult;
use super::{Filled, Leak, Place, Plateau, Restrictor, Stage};
use crate::engine::Condition;
use crate::units::{Pressure, Time};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A tester that loses no more than this share is tight, if it was watched so long (s); one that loses
/// so much leaks. Own rule: a reading is compared within a tenth, and made within ten seconds or so.
const TIGHT: f64 = 0.02;
const LEAKS: f64 = 0.05;
const WATCHED_S: f64 = 15.0;

/// What a connected cylinder held.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Held {
    /// Where the piston stood.
    pub stage: Stage,
    /// The supply, as it was around this stage, gauge.
    #[serde(rename = "supply_pa")]
    pub supply: Pressure,
    /// Where the pressure came to rest.
    pub plateau: Plateau,
    /// Share of the supply's pressure that is lost (0 to 1).
    pub loss: f64,
    /// Expanded uncertainty (k = 2) of [`Self::loss`].
    pub loss_expanded: f64,
    /// The effective leak; none where nothing is held.
    pub leak: Option<Leak>,
    /// So many readings of the cylinder between two of the supply it is the mean of; 0 where the two
    /// were not read in turn.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub rounds: usize,
}

#[allow(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde hands a reference to it"
)]
const fn is_zero(rounds: &usize) -> bool {
    *rounds == 0
}

/// What is to be said of a test with air.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "flag", rename_all = "kebab-case")]
pub enum AirFlag {
    /// The supply was not read.
    NoSupply {},
    /// A pressure came to no rest, or left it again.
    Wanders {
        /// In this stage.
        stage: Stage,
    },
    /// The pressure fell away while the cylinder was connected: the air pushed the piston off the
    /// top, or the tester was taken off.
    FellAway {
        /// In this stage.
        stage: Stage,
    },
    /// Nothing to speak of is held: a valve is open (the piston is not at the top of its compression
    /// stroke), or something is open altogether.
    HoldsNothing {
        /// In this stage.
        stage: Stage,
    },
    /// The supply read otherwise afterwards than before.
    SupplyMoved {},
    /// The sensor was at the end of its range.
    BeyondRange {},
    /// The leak is much smaller or larger than the restrictor: another one tells it better.
    RestrictorDoesNotSuit {
        /// Diameter of one that suits, in mm.
        take_mm: f64,
    },
}

/// A test with air.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "test", rename_all = "kebab-case")]
pub enum AirTest {
    /// A leak-down test of a cylinder.
    LeakDown {
        /// The cylinder.
        cylinder: String,
        /// The engine's condition.
        condition: Condition,
        /// The restrictor.
        restrictor: Restrictor,
        /// The supply's plateaus, in the order made.
        supply: Vec<Plateau>,
        /// What was held, in the order made.
        held: Vec<Held>,
        /// Where air was heard to leave, the loudest first; empty if nobody said.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        heard: Vec<Place>,
        /// What is to be said of the test.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        flags: Vec<AirFlag>,
    },
    /// A decay test.
    Decay {
        /// What was filled.
        filled: Filled,
        /// The cylinder, where one was.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        cylinder: Option<String>,
        /// Its volume in cm³, where it was given.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        volume_cm3: Option<f64>,
        /// How it fell; none where nothing was filled, shut off and watched long enough.
        result: Option<DecayResult>,
        /// What is to be said of the test.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        flags: Vec<AirFlag>,
    },
}

impl AirTest {
    /// What a leak-down test of a cylinder held with the piston at the top.
    pub fn at_top(&self) -> Option<&Held> {
        match self {
            Self::LeakDown { held, .. } => held.iter().rfind(|one| one.stage == Stage::Top),
            Self::Decay { .. } => None,
        }
    }

    /// The share that the tester lost, and in which time, where its tightness was measured.
    pub fn lost_by_tester(&self) -> Option<(f64, Time)> {
        let Self::Decay {
            filled: Filled::Tester,
            result: Some(result),
            ..
        } = self
        else {
            return None;
        };
        Some(((result.from - result.to) / result.from, result.watched))
    }

    /// Whether the tester holds, where its tightness was measured; none where that does not tell.
    pub fn tester_is_tight(&self) -> Option<bool> {
        match self.lost_by_tester()? {
            (share, _) if share >= LEAKS => Some(false),
            (share, watched) if share <= TIGHT && watched.s() >= WATCHED_S => Some(true),
            _ => None,
        }
    }

    /// What is to be said of it.
    pub fn flags(&self) -> &[AirFlag] {
        match self {
            Self::LeakDown { flags, .. } | Self::Decay { flags, .. } => flags,
        }
    }
}
