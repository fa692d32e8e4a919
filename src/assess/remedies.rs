//! What to look at and what to do, by the kind of engine: a two-stroke has no valves to listen at
//! and a diesel no carburettor.

use super::case::Case;
use super::results::CauseKind;
use crate::engine::cautions::LEAK_DOWN;
use crate::engine::{Fuel, ReadingOnly, Start};

/// What is not said of an engine that the calculations were not made for.
pub(super) fn reading_only(case: &Case<'_>) -> Option<String> {
    let (what, why) = match case.kind.reading_only()? {
        ReadingOnly::AutomaticDecompressor => (
            "Its automatic decompressor lets part of each stroke out while it is cranked: a sound \
             engine reads low. The readings stand for themselves, and limits of its own manual \
             alone are held against them.",
            "",
        ),
        ReadingOnly::Diesel => (
            "It is a diesel, judged by what is published for diesels and by limits on its card \
             alone.",
            ": what is behind them was found on petrol engines",
        ),
    };
    Some(format!(
        "{what} No expected reading, no causes and no score are given{why}."
    ))
}

/// What to do where the engine was turned too slowly.
pub(super) fn turn_faster(case: &Case<'_>) -> &'static str {
    match case.kind.start {
        Some(Start::Kick | Start::PullCord | Start::HandCrank) => {
            "Turn it faster, with all plugs out, and repeat every run."
        }
        Some(Start::Electric) => {
            "Charge the battery (not while you crank), take out all plugs, and repeat every run."
        }
        None => {
            "Charge the battery (not while you crank), or turn it faster, with all plugs out, and \
             repeat every run."
        }
    }
}

/// The test that finds where the air goes, with what to mind; by where air can be heard in an
/// engine of this kind.
pub(super) fn leak_down(case: &Case<'_>) -> String {
    let kind = &case.kind;
    let heard = match (kind.is_two_stroke(), kind.is_diesel(), kind.fuel) {
        // Valves, ports or both: which of them this one has is not known.
        (true, true, _) => "where the air is heard to leave tells what leaks",
        (true, false, _) => {
            "air that goes into the crankcase means the rings or the bore, bubbles in the coolant \
             or air at the head's joint the gasket"
        }
        (false, true, _) => {
            "air heard at the air intake means the intake valve, at the exhaust the exhaust valve, \
             at the breather the rings, bubbles in the coolant or air from the next cylinder's \
             hole the gasket"
        }
        (false, false, Some(Fuel::Injection)) => {
            "air heard at the throttle body means the intake valve, at the exhaust the exhaust \
             valve, at the breather the rings, bubbles in the coolant or air from the next plug \
             hole the gasket"
        }
        (false, false, _) => {
            "air heard at the carburettor means the intake valve, at the exhaust the exhaust valve, \
             at the breather the rings, bubbles in the coolant or air from the next plug hole the \
             gasket"
        }
    };
    format!(
        "Confirm by a leak-down test before anything is taken apart: {heard}. {}",
        LEAK_DOWN.said()
    )
}

/// What to look at where this is the leading cause of the cylinders named.
pub(super) fn look(case: &Case<'_>, kind: CauseKind, named: &str) -> Option<String> {
    Some(match kind {
        CauseKind::Valve => format!(
            "Check and set the valve clearances of {named}, then read again: a valve held open by \
             too little clearance reads like a burnt one."
        ),
        CauseKind::Gasket => format!(
            "Check the head's tightness at {named}, then read them again before condemning rings \
             or valves."
        ),
        CauseKind::Rings if case.kind.is_two_stroke() => {
            format!("Rings of {named}: look at piston and bore through the exhaust port.")
        }
        CauseKind::Rings => {
            format!("Rings of {named}: look for oil smoke and blow-by at the breather.")
        }
        CauseKind::RingsOrValve => {
            format!("Check the valve clearances of {named} first: it costs nothing.")
        }
        CauseKind::HighCompression => format!(
            "Look into {named} through the plug hole for deposits, and check what head and gasket \
             are fitted."
        ),
        CauseKind::ValveTiming => "Check valve clearances, cam lift and the timing marks: all \
                                   cylinders are low alike."
            .to_owned(),
        CauseKind::Healthy
        | CauseKind::ThrottleShut
        | CauseKind::SlowCranking
        | CauseKind::TesterLeak => return None,
    })
}
