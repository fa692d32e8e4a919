//! What the analysis has to say while it runs, one line an event.

use super::live::told::{self, Told};
use crate::assess;
use crate::engine::EngineKind;
use crate::leakdown::{Told as AirTold, words};
use crate::pipeline::News;
use crate::protocol::ProtocolFile;
use crate::signal::{Count, Event, Reading, Rig, RunResult, Turned};
use crate::units::PressureUnit;

/// What a record brought, in lines; none for what a reader need not see.
pub(super) fn lines(
    news: &News,
    protocol: &ProtocolFile,
    unit: PressureUnit,
    kind: &EngineKind,
) -> Vec<String> {
    match news {
        News::Signal(event) => said(event, unit, kind).into_iter().collect(),
        News::RunEnded { result, .. } => ended(result, unit).into_iter().collect(),
        News::Status { new, .. } => {
            let told = told::status(protocol, *new);
            told.iter().map(Told::text).map(str::to_owned).collect()
        }
        News::Air(told) => air(*told, unit).into_iter().collect(),
        News::Battery(_) | News::AirTested(_) => Vec::new(),
    }
}

/// What a test with air has to say; a plateau of the cylinder comes once more, with what it means.
pub(super) fn air(told: AirTold, unit: PressureUnit) -> Option<String> {
    match told {
        AirTold::Plateau(stage, _) if stage.is_connected() => None,
        AirTold::Blurred(_) => None,
        AirTold::Plateau(stage, plateau) => Some(format!(
            "{}: {}",
            words::stage(stage),
            plateau.level.show(unit)
        )),
        AirTold::Held(held) => Some(words::held(&held, unit)),
        AirTold::Flag(flag) => Some(words::flag(flag)),
    }
}

fn said(event: &Event, unit: PressureUnit, kind: &EngineKind) -> Option<String> {
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
        Event::Counted(count) => return counted(count, unit),
        Event::Settled { reading, .. } => format!("STOP: {}", shown(reading, unit)),
        Event::Withdrawn { now, .. } => {
            format!("climbing again, now {}: keep cranking", now.show(unit))
        }
        Event::Paused { strokes } => {
            format!("pause after stroke {strokes}: the needle was still climbing, keep cranking")
        }
        Event::Bled { held } => format!("bled from {}", held.show(unit)),
        Event::Flagged(flag) => assess::flag(flag, unit, kind).advice.to_owned(),
        Event::RunEnded(result) => return ended(result, unit),
    };
    Some(line)
}

fn ended(result: &RunResult, unit: PressureUnit) -> Option<String> {
    match &result.reading {
        Some(reading) if reading.is_at_least() => Some(format!(
            "run ended while the needle was climbing: at least {}",
            reading.value.show(unit)
        )),
        Some(reading) => Some(format!("run ended: {}", shown(reading, unit))),
        None if result.strokes.is_empty() => None,
        None => Some("run ended without a reading".to_owned()),
    }
}

/// A kick or a stroke that was due and lifted nothing: nothing else tells of it.
fn counted(count: &Count, unit: PressureUnit) -> Option<String> {
    let what = match count.turned {
        Turned::ByStarter | Turned::ByHand => "stroke",
        Turned::InKicks => "kick",
    };
    let (made, needle) = (count.made, count.needle.show(unit));
    (count.unseen > 0).then(|| format!("{what} {made:>3}: {needle}, nothing lifted"))
}

fn shown(reading: &Reading, unit: PressureUnit) -> String {
    format!(
        "{} ± {}",
        reading.value.digits(unit),
        reading.expanded.show(unit)
    )
}
