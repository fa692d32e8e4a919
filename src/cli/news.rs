//! What the analysis has to say while it runs, one line an event.

use crate::signal::{Event, Reading, Rig};
use crate::units::PressureUnit;

/// The event in a line; none for what a reader need not see.
pub(super) fn line(event: &Event, unit: PressureUnit) -> Option<String> {
    let line = match event {
        Event::Zeroed(zero) if zero.measured => {
            format!("zero measured: {}", zero.level.show(unit))
        }
        Event::Zeroed(_) => "zero not measured: assumed".to_owned(),
        Event::RigRecognised(Rig::Holding) => {
            "rig: holding (the reading stays until bled)".to_owned()
        }
        Event::RigRecognised(Rig::Following) => {
            "rig: following (the reading rises and falls with each stroke)".to_owned()
        }
        Event::Stroke(stroke) => {
            format!("stroke {:>3}: {}", stroke.number, stroke.peak.show(unit))
        }
        Event::Settled(reading) => format!("SETTLED: {}; stop cranking", shown(reading, unit)),
        Event::Withdrawn { now, .. } => {
            format!("climbing again, towards {}: keep cranking", now.show(unit))
        }
        Event::Paused { strokes } => {
            format!("pause after stroke {strokes}: not settled yet, keep cranking")
        }
        Event::Bled { held } => format!("bled from {}", held.show(unit)),
        Event::Flagged(flag) => flag.advice().to_owned(),
        Event::RunEnded(result) => match &result.reading {
            Some(reading) if reading.extrapolated => {
                format!(
                    "run ended before it settled: about {}",
                    shown(reading, unit)
                )
            }
            Some(reading) => format!("run ended: {}", shown(reading, unit)),
            None if result.strokes.is_empty() => return None,
            None => "run ended without a reading".to_owned(),
        },
    };
    Some(line)
}

fn shown(reading: &Reading, unit: PressureUnit) -> String {
    format!(
        "{} ± {}",
        reading.value.digits(unit),
        reading.expanded.show(unit)
    )
}
