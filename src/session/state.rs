//! What a session holds: its stage, the run in hand, the runs made, and what can be taken back.

use super::input::{Link, Setup, Trouble};
use super::output::Output;
use super::plan::{Plan, Planned};
use super::steps::AirSteps;
use crate::engine::Condition;
use crate::signal::{Count, Reading, Rig, Zero};
use crate::units::{Pressure, Time};

/// Pressure that must not be left in the hose before a run; 20 kPa is some 2 % of a usual
/// reading, and well above any sensor's zero error. (Our choice.)
pub(super) const LEFT_OVER: Pressure = Pressure::from_pa(20e3);

/// After so long without a word, a stroke or a key, what is to be done is said again; then after
/// twice as long, and so on. (Our choice.)
pub(super) const NOTHING: Time = Time::from_s(20.0);
/// Where the session stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// The cautions are shown and wait to be acknowledged.
    Cautions,
    /// The sensor has not been seen at rest with nothing on it.
    Zero,
    /// The sensor is to be fitted; the first stroke moves on.
    Ready,
    /// Strokes are being made; the reading has not settled.
    Climbing,
    /// Settled: hands off, the held reading is watched for the tester's leak.
    Hold,
    /// The pressure is to be let go.
    Bleed,
    /// The cautions about air are shown and wait to be acknowledged.
    AirCautions,
    /// A test with air is under way.
    Air,
    /// Every planned run is made; a further round can be asked for.
    Offer,
    /// A run that has no name waits for one.
    Naming,
    /// The end.
    Finished,
}

impl Stage {
    /// Whether cautions are shown and wait to be acknowledged.
    pub const fn shows_cautions(self) -> bool {
        matches!(self, Self::Cautions | Self::AirCautions)
    }
}

/// A run that has been made.
#[derive(Clone, Debug, PartialEq)]
pub struct MadeRun {
    /// Its index in the findings.
    pub index: usize,
    /// Name of the cylinder.
    pub cylinder: String,
    /// The name is the user's or the card's.
    pub named: bool,
    /// The engine's condition.
    pub condition: Condition,
    /// What became of it.
    pub state: RunState,
    /// The reading, if there is one.
    pub reading: Option<Reading>,
    /// What a gauge showed after each of its strokes, for the build-up beside those of other runs.
    pub shown: Vec<Pressure>,
}

/// What became of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RunState {
    /// It counts.
    Good,
    /// It counts for what it is worth; why it should be made again.
    Wrong(String),
    /// It does not count; why.
    Void(String),
}

/// The run being made.
#[derive(Clone, Debug)]
pub(super) struct Current {
    pub(super) planned: Planned,
    /// The cylinder's name as it was recorded when the run began.
    pub(super) announced: String,
    pub(super) strokes: u32,
    pub(super) last_stroke: Time,
    pub(super) paused: bool,
    pub(super) settled: Option<Reading>,
    /// How far it has come.
    pub(super) count: Option<Count>,
    pub(super) troubles: Vec<Trouble>,
    /// The pressure climbed again when it should have been bled.
    pub(super) mixed: bool,
    /// The user gave it up.
    pub(super) given_up: Option<GivenUp>,
    pub(super) end_asked: bool,
    /// The user said that its oil has been poured.
    pub(super) oil_is_in: bool,
}

/// How a run was given up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum GivenUp {
    /// It is left out.
    Skipped,
    /// It is made again.
    Again,
    /// It had not begun, and another one is made first.
    PutOff,
}

/// How it was before the last key that changed something.
#[derive(Clone, Debug)]
pub(super) struct Undo {
    /// What the key did, in a sentence.
    pub(super) did: String,
    pub(super) in_hand: Option<InHand>,
    pub(super) plan: Plan,
    /// The run that waited for its first stroke.
    pub(super) waiting: Option<Planned>,
    /// Its oil had been poured.
    pub(super) oil_is_in: bool,
    pub(super) states: Vec<RunState>,
    pub(super) oil_proposed: bool,
    pub(super) oil_refused: bool,
    pub(super) worth_oil: Vec<(String, String)>,
}

/// A run that has strokes.
#[derive(Clone, Debug)]
pub(super) struct InHand {
    pub(super) stage: Stage,
    pub(super) given_up: Option<GivenUp>,
    pub(super) troubles: Vec<Trouble>,
}

/// When something was said or done last.
#[derive(Clone, Copy, Debug)]
pub(super) struct Patience {
    pub(super) since: Time,
    pub(super) lasts: Time,
}

impl Patience {
    pub(super) const NEW: Self = Self {
        since: Time::ZERO,
        lasts: NOTHING,
    };
}

/// A test with air under way.
#[derive(Clone, Debug)]
pub(super) struct Air {
    pub(super) steps: AirSteps,
    /// What was read last.
    pub(super) note: Option<String>,
    /// A cylinder was read.
    pub(super) held: bool,
}

/// The guided run.
#[derive(Clone, Debug)]
pub struct Session {
    pub(super) setup: Setup,
    pub(super) plan: Plan,
    pub(super) stage: Stage,
    pub(super) current: Option<Current>,
    pub(super) made: Vec<MadeRun>,
    /// Cylinders that are low or uneven in the latest dry round, with why.
    pub(super) worth_oil: Vec<(String, String)>,
    /// Wet runs were proposed for this round already.
    pub(super) oil_proposed: bool,
    /// A cylinder is low, and this engine is not one to be given oil.
    pub(super) oil_refused: bool,
    pub(super) now: Time,
    pub(super) entered: Time,
    pub(super) pressure: Option<Pressure>,
    /// Pressure that the sensor showed at what should have been zero.
    pub(super) left_over: Option<Pressure>,
    pub(super) zero: Option<Zero>,
    pub(super) rig: Option<Rig>,
    pub(super) link: Link,
    /// The last thing that the user should know, until the stage changes.
    pub(super) notice: Option<String>,
    /// Finish was asked for.
    pub(super) finishing: bool,
    /// When the last stroke was that belongs to no run; none once they are dealt with.
    pub(super) stray: Option<Time>,
    /// The next run begins once the stray strokes are dealt with.
    pub(super) waiting: bool,
    /// Since when the sensor has shown pressure in the hose before the zero.
    pub(super) held_since: Option<Time>,
    /// What the last key changed can be taken back.
    pub(super) undo: Option<Undo>,
    /// A round is made, and what it means is not known yet.
    pub(super) weighing: bool,
    pub(super) patience: Patience,
    /// The test with air under way.
    pub(super) air: Option<Air>,
    /// The cautions about air have been read.
    pub(super) air_cautions_read: bool,
    /// Cylinders that are low or uneven as it stands, with why, and those that were tested with air.
    pub(super) suspects: Vec<(String, String)>,
    pub(super) aired: Vec<String>,
    /// Nothing is asked for: the user rests.
    pub(super) resting: bool,
    /// The last line said.
    pub(super) said: String,
    pub(super) out: Vec<Output>,
}
