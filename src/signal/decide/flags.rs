//! How serious a flag is.

use crate::signal::results::{Flag, Grade};

/// How much a flag takes away from the test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// Good to know; the reading stands.
    Note,
    /// The reading stands, with what the flag says in mind.
    Mind,
    /// Do not rest a decision on the reading: put right what it says and repeat the run.
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
}

/// The grade that a run's flags leave: any to repeat makes it poor, any to mind makes it fair.
pub(super) fn grade(flags: &[Flag]) -> Grade {
    match flags.iter().map(Flag::severity).max() {
        Some(Severity::Repeat) => Grade::Poor,
        Some(Severity::Mind) => Grade::Fair,
        _ => Grade::Good,
    }
}
