//! Whether a run should be made again, seen from the test alone (not from the engine).

use super::input::Trouble;
use crate::assess::{Assessment, CauseKind};
use crate::engine::Condition;
use crate::signal::{Flag, Grade, Outcome, RunResult};

/// Why the run should be made again, in plain words; none if it is good as it is.
///
/// A wet run is read at its highest and is never made again for the needle's sake: the oil leaves,
/// and more of it must not go in.
pub(super) fn wrong(
    result: &RunResult,
    condition: Condition,
    troubles: &[Trouble],
) -> Option<String> {
    if let Some(trouble) = troubles.first() {
        return Some(trouble.text().to_owned());
    }
    let by_flag = result.flags.iter().find_map(|flag| match flag {
        Flag::TesterLeaks { .. } => {
            Some("the tester leaks; tighten it, look at its seal".to_owned())
        }
        Flag::StoppedEarly { .. } if condition != Condition::Wet => {
            Some("cranking ended while the needle was still climbing".to_owned())
        }
        Flag::Clipped { .. } => Some("the pressure went beyond the sensor's range".to_owned()),
        _ => None,
    });
    by_flag
        .or_else(|| match result.outcome {
            Outcome::NoReading => Some("it gave no reading".to_owned()),
            Outcome::Settled | Outcome::AtRest | Outcome::StillClimbing => None,
        })
        .or_else(|| {
            (result.grade == Grade::Poor).then(|| "the test was too poor to rest on".to_owned())
        })
}

/// Whether the assessment takes the throttle to have been shut for this cylinder.
pub(super) fn throttle_was_shut(assessment: &Assessment, cylinder: &str) -> bool {
    assessment
        .cylinders
        .iter()
        .filter(|c| c.name == cylinder)
        .filter_map(|c| c.causes.first())
        .any(|cause| cause.kind == CauseKind::ThrottleShut)
}
