//! What is taken for granted, what cannot be told, and what to do next.

use crate::engine::{Condition, Fuel, ReadingOnly, Start};
use crate::units::Pressure;

/// What the assessment takes for granted.
#[derive(Clone, Debug, PartialEq)]
pub enum Note {
    /// Ambient pressure is from the height on the card.
    AmbientFromHeight(Pressure),
    /// Sea level is assumed.
    SeaLevelAssumed(Pressure),
    /// Runs that the user took back: cylinder and condition.
    TakenBack(Vec<(String, Condition)>),
    /// The tester's volume is not on the card.
    NoTesterVolume,
    /// How much oil was put in is not on the card.
    NoOilAmount,
    /// When compression begins is not on the card.
    NoClosing,
    /// How frequent causes are is an estimate.
    Frequencies,
}

/// What the runs made cannot tell.
#[derive(Clone, Debug, PartialEq)]
pub enum Gap {
    /// One cylinder of several was read.
    OneOfSeveral,
    /// The engine has one cylinder.
    SingleCylinder,
    /// A cylinder was tested with air only.
    AirOnly(String),
    /// A cylinder has no usable reading.
    NoReading(String),
    /// A run gave no reading.
    RunWithoutReading(String, Condition),
    /// The card does not know a cylinder.
    NotOnCard(String),
    /// Cylinders were read in different conditions.
    Mixed {
        /// Cylinders left out.
        left_out: Vec<String>,
        /// The condition that they were read in.
        only: Condition,
        /// The condition of the others.
        others: Condition,
    },
    /// Cylinders with a wet reading alone.
    OnlyWet(Vec<String>),
    /// Cylinders of which rings and valves are not told apart.
    RingsOrValves(Vec<String>),
    /// Intake and exhaust valve look the same.
    WhichValve,
    /// The card names no neighbours.
    NoNeighbours,
    /// There is no card.
    NoCard,
    /// The card lacks dimensions.
    ThinCard(Vec<Missing>),
    /// The calculations were not made for this engine.
    ReadingOnly(ReadingOnly),
}

/// A dimension that a card lacks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Missing {
    /// The bore.
    Bore,
    /// The stroke.
    Stroke,
    /// The compression ratio.
    Ratio,
}

/// Why runs are to be made again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Again {
    /// Cranking ended before the reading settled.
    Climbing,
    /// The test itself was poor.
    Poor,
}

/// What to look at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Look {
    /// The valve clearances.
    Clearances,
    /// The valve clearances, before rings are thought of.
    ClearancesFirst,
    /// The head's tightness.
    Head,
    /// The rings of a two-stroke.
    RingsByPort,
    /// The rings of a four-stroke.
    RingsByBreather,
    /// The chamber.
    Chamber,
    /// Cam and timing.
    Timing,
}

/// What to do next.
#[derive(Clone, Debug, PartialEq)]
pub enum NextStep {
    /// Open the throttle and repeat.
    OpenThrottle,
    /// Turn it faster and repeat; by what it is started with.
    TurnFaster(Option<Start>),
    /// Tighten the tester and repeat.
    TightenTester,
    /// Find the tester's leak.
    FindTesterLeak,
    /// Look up what the card says.
    LookUpCard,
    /// Repeat runs with what all cylinders share out of doubt.
    BearOut {
        /// The cylinders.
        cylinders: Vec<String>,
        /// The condition.
        condition: Condition,
        /// It has a throttle.
        throttle: bool,
    },
    /// Read what was not read.
    FillIn {
        /// The cylinders.
        cylinders: Vec<String>,
        /// The condition.
        condition: Condition,
    },
    /// Make runs again.
    Repeat {
        /// The runs: condition and cylinders.
        runs: Vec<(Condition, Vec<String>)>,
        /// Why.
        why: Again,
    },
    /// No oil into a diesel.
    NoOil,
    /// Wet runs.
    Wet {
        /// The cylinders.
        cylinders: Vec<String>,
        /// Oil for each, in cm³.
        dose_cm3: f64,
        /// The chamber is known, and the dose a tenth of it at most.
        chamber_known: bool,
    },
    /// A wet run of a sound cylinder, to compare with.
    WetControl(String),
    /// Look at these cylinders.
    LookAt(Look, Vec<String>),
    /// A leak-down test; by where air can be heard in an engine of this kind.
    LeakDown {
        /// It is a two-stroke.
        two_stroke: bool,
        /// It is a diesel.
        diesel: bool,
        /// How fuel gets in.
        fuel: Option<Fuel>,
    },
    /// Read it again warm.
    ReadWarm,
    /// Nothing.
    Nothing,
}
