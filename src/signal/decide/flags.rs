//! How serious a flag is, and what to do about it.

use crate::signal::results::{Flag, Grade};

/// How much a flag takes away from the test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Good to know; the reading stands.
    Note,
    /// The reading stands, with what the flag says in mind.
    Mind,
    /// Do not rest a decision on the reading: do what the advice says and repeat the run.
    Repeat,
}

impl Flag {
    /// How much the flag takes away from the test.
    pub fn severity(&self) -> Severity {
        match self {
            Self::NoStrokes
            | Self::TooFewStrokes { .. }
            | Self::Clipped { .. }
            | Self::RigUnclear => Severity::Repeat,
            Self::StoppedEarly { .. }
            | Self::NotZeroed
            | Self::SlowCadence { .. }
            | Self::TesterLeaks { .. } => Severity::Mind,
            Self::Undersampled { .. }
            | Self::LostInStroke { .. }
            | Self::UnevenCadence { .. }
            | Self::ZeroOffset { .. }
            | Self::ThrottleMayBeShut { .. }
            | Self::SlowBuildUp { .. }
            | Self::Withdrawn { .. }
            | Self::BadSamples { .. }
            | Self::StrokesNotListed { .. } => Severity::Note,
        }
    }

    /// What to do, in plain words.
    pub fn advice(&self) -> &'static str {
        match self {
            Self::NoStrokes => {
                "Check that the sensor is tight in the plug hole and that the engine turns, then repeat the run."
            }
            Self::StoppedEarly { .. } => {
                "Crank on until the tool says STOP; the needle was still climbing, so the reading is only \"at least\"."
            }
            Self::TooFewStrokes { .. } => "Repeat the run with at least five strokes.",
            Self::NotZeroed => {
                "Begin the recording with the pressure let go, and wait a second before the first stroke."
            }
            Self::ZeroOffset { .. } => {
                "The offset was taken off. If it is large or grows, let the sensor warm up or have it checked."
            }
            Self::Clipped { .. } => {
                "The pressure went beyond the sensor's range: use a sensor with a wider range."
            }
            Self::Undersampled { .. } => {
                "Set the sensor to a faster rate, or fit a check valve so that the reading is held."
            }
            Self::LostInStroke { .. } => {
                "Bring the receiver closer to the sensor, and crank a few strokes more."
            }
            Self::UnevenCadence { .. } => {
                "Crank or kick as evenly as you can; charge the battery if the starter labours."
            }
            Self::SlowCadence { .. } => {
                "Charge the battery, not while you crank (it gives off hydrogen: no sparks at its posts), or help with a second one joined before the plugs come out; take out all plugs, and repeat."
            }
            Self::TesterLeaks { .. } => {
                "Tighten the tester's joints and check its valve seat; a falling reading is the tester's, not the engine's."
            }
            Self::ThrottleMayBeShut { .. } => {
                "Open throttle and choke fully and block them open, then repeat the run before blaming the engine."
            }
            Self::SlowBuildUp { .. } => {
                "Use a shorter or thinner hose, or crank more strokes; compare cylinders only with the same hose."
            }
            Self::Withdrawn { .. } => "Crank on until the reading settles again.",
            Self::RigUnclear => {
                "Say whether a check valve is fitted, or repeat the run with a few strokes more."
            }
            Self::BadSamples { .. } => {
                "Check the sensor, its battery and its protocol file if this goes on."
            }
            Self::StrokesNotListed { .. } => {
                "Let the pressure go between cylinders, or begin a new run."
            }
        }
    }
}

/// The grade that a run's flags leave: any to repeat makes it poor, any to mind makes it fair.
pub(super) fn grade(flags: &[Flag]) -> Grade {
    match flags.iter().map(Flag::severity).max() {
        Some(Severity::Repeat) => Grade::Poor,
        Some(Severity::Mind) => Grade::Fair,
        _ => Grade::Good,
    }
}
