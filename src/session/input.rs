//! What moves the guided run: what the analysis says, the link, the keys, and time, all as data.

use super::task::AirEngine;
use crate::assess::Assessment;
use crate::engine::{Condition, EngineKind, Rating};
use crate::leakdown::{self, AirTest, Place, Restrictor};
use crate::signal::{Event, RunResult};
use crate::units::{Pressure, Time};

/// One thing that happened.
#[derive(Clone, Debug)]
pub enum Input<'a> {
    /// It is now this late, on the source's clock; never earlier than before.
    Clock(Time),
    /// Gauge pressure of the latest sample.
    Pressure(Pressure),
    /// The analysis of the run has something to say. ([`Event::RunEnded`] is left out: it comes
    /// as [`Input::RunEnded`], with its index.)
    Signal(&'a Event),
    /// A run is complete.
    RunEnded {
        /// Its index in the findings.
        index: usize,
        /// What was read.
        result: &'a RunResult,
    },
    /// What all runs so far mean; given after each run.
    Assessed(&'a Assessment),
    /// A test with air has something to say.
    Air(&'a leakdown::Told),
    /// A test with air is over, and has come to this.
    AirTested(&'a AirTest),
    /// The link to the sensor.
    Link(Link),
    /// The user pressed a key.
    Command(Command),
    /// The recording that is replayed says that this run begins.
    Told {
        /// Name of the cylinder.
        cylinder: &'a str,
        /// The engine's condition.
        condition: Condition,
    },
    /// The recording that is replayed names a run or takes it back.
    Amended {
        /// Its index in the findings.
        index: usize,
        /// Name of the cylinder.
        cylinder: &'a str,
        /// The engine's condition.
        condition: Condition,
        /// It does not count.
        void: bool,
    },
    /// The source has ended: nothing more will come.
    SourceEnded,
    /// The user goes: a run that waits for its first stroke is not made.
    Leaving,
}

/// How the link to the sensor is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Link {
    /// Samples are coming.
    #[default]
    Up,
    /// The link is up, but nothing comes.
    Silent,
    /// The link is lost; it is being sought again.
    Lost,
}

/// What the user may ask for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Command {
    /// Read and understood; or: go on as proposed.
    Go,
    /// Leave this run out.
    Skip,
    /// Make this run (or, before the first stroke, the one before) again.
    Redo,
    /// The run being made, or the last one made, is of this cylinder.
    Name(String),
    /// Write this down.
    Note(String),
    /// Something was wrong with the test.
    Trouble(Trouble),
    /// Take back what the last of these changed.
    Undo,
    /// Say again what is to be done.
    Say,
    /// A warm round on every cylinder.
    Warm,
    /// The oil for this wet run has been poured.
    OilIn,
    /// Rest: nothing is asked for until this comes again, or a stroke.
    Pause,
    /// Wet runs: on the cylinders for which they are proposed, or else on the last one made.
    Wet,
    /// A leak-down test of this cylinder, or of the one for which it is proposed.
    LeakDown(Option<String>),
    /// Measure how tight the tester is.
    CheckTester,
    /// Air is heard here; once more: it is not.
    Hear(Place),
    /// The same by its number among those asked for, from 0.
    HearNth(usize),
    /// Air is heard here, the loudest first, and that is all.
    Heard(String),
    /// No more runs: name what is unnamed, then the end. A test with air is left.
    Finish,
}

/// What can be wrong with a test that the pressure does not tell.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Trouble {
    /// The throttle was not wide open.
    Throttle,
    /// The battery was too weak to crank well.
    Battery,
}

impl Trouble {
    /// As it is written down.
    pub const fn text(self) -> &'static str {
        match self {
            Self::Throttle => "the throttle was not wide open",
            Self::Battery => "the battery was weak",
        }
    }
}

/// A run of an earlier part of the session, which counts on.
#[derive(Clone, Debug, PartialEq)]
pub struct KeptRun {
    /// Name of the cylinder.
    pub cylinder: String,
    /// The user has named it.
    pub named: bool,
    /// The engine's condition.
    pub condition: Condition,
    /// It was taken back.
    pub void: bool,
    /// What was read.
    pub result: RunResult,
}

/// What is settled before the session begins.
#[derive(Clone, Debug, PartialEq)]
pub struct Setup {
    /// Cylinders of the plan, in order; none: unnamed runs in sequence.
    pub cylinders: Vec<String>,
    /// Condition of the first round: cold or warm.
    pub first: Condition,
    /// What kind of engine it is.
    pub kind: EngineKind,
    /// How the sensor's range and the engine go together.
    pub rating: Rating,
    /// The unit in which prompts tell pressures.
    pub unit: crate::units::PressureUnit,
    /// What the sensor should show with nothing on it: zero, or the air's pressure if it tells
    /// absolute pressure.
    pub zero_expected: Pressure,
    /// The cautions have been read already (`--cautions-read`).
    pub cautions_read: bool,
    /// What tests with air are made with.
    pub air: AirSetup,
    /// A recording is replayed: nobody can be asked to make a run again, or another one.
    pub replay: bool,
    /// Runs of an earlier part of the session, in the order of the findings.
    pub kept: Vec<KeptRun>,
}

/// What tests with air are made with.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AirSetup {
    /// The restrictor.
    pub restrictor: Restrictor,
    /// Volume of the tester in cm³, where it is known.
    pub tester_cm3: Option<f64>,
    /// The tester's tightness is measured before the first run.
    pub check_tester: bool,
    /// The engine.
    pub engine: AirEngine,
}
