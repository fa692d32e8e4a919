//! What to do next.

use super::shown::listed;
use crate::assess::saying::{Again, Look, NextStep};
use crate::engine::cautions::LEAK_DOWN;
use crate::engine::oil::{BY_HAND, measured};
use crate::engine::{Condition, Fuel, Start};

/// A step.
pub(super) fn step(step: &NextStep) -> String {
    match step {
        NextStep::OpenThrottle => {
            "Block the throttle and choke wide open and repeat every run before judging the engine. \
             If they were open, say so on the card (checked.throttle_open)."
                .to_owned()
        }
        NextStep::TurnFaster(start) => faster(*start).to_owned(),
        NextStep::TightenTester => {
            "Check the tester's seal, hose and check valve, and repeat every run. If it was proved \
             tight, say so on the card (checked.tester_tight)."
                .to_owned()
        }
        NextStep::FindTesterLeak => "Find the tester's leak: a held reading fell by itself.".to_owned(),
        NextStep::LookUpCard => {
            "Look up the card's compression ratio, timing and height: what rests on them is not to \
             be relied on until then."
                .to_owned()
        }
        NextStep::BearOut {
            cylinders,
            condition,
            throttle,
        } => bear_out(cylinders, *condition, *throttle),
        NextStep::FillIn {
            cylinders,
            condition,
        } => format!(
            "Read {} {} as well: until then nothing is said of the engine as a whole.",
            listed(cylinders),
            condition.label()
        ),
        NextStep::Repeat { runs, why } => repeat(runs, *why),
        NextStep::NoOil => {
            "Never put oil into a diesel's cylinder for a wet test: it can fire or lock.".to_owned()
        }
        NextStep::Wet {
            cylinders,
            dose_cm3,
            chamber_known,
        } => wet(cylinders, *dose_cm3, *chamber_known),
        NextStep::WetControl(name) => format!(
            "Wet cylinder {name} as well, with the same amount of oil: it reads well, so its rise \
             shows what the oil's volume alone does."
        ),
        NextStep::LookAt(what, cylinders) => look(*what, &listed(cylinders)),
        NextStep::LeakDown {
            two_stroke,
            diesel,
            fuel,
        } => format!(
            "Confirm by a leak-down test before anything is taken apart: {}. {}",
            heard(*two_stroke, *diesel, *fuel),
            LEAK_DOWN.said()
        ),
        NextStep::ReadWarm => {
            "Read again at working temperature if the engine runs: the published rules are meant \
             for a warm engine."
                .to_owned()
        }
        NextStep::Nothing => "Nothing more to do with a pressure gauge here.".to_owned(),
    }
}

/// What to do where the engine was turned too slowly.
const fn faster(start: Option<Start>) -> &'static str {
    match start {
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

fn bear_out(cylinders: &[String], condition: Condition, throttle: bool) -> String {
    let (runs, them) = if cylinders.len() == 1 {
        ("run", "it is the only one")
    } else {
        ("runs", "they are low alike")
    };
    let throttle = if throttle {
        "with throttle and choke blocked wide open and "
    } else {
        "with "
    };
    format!(
        "Repeat the {} {runs} of {} {throttle}the tester proved tight, and say so on the \
         card (checked.throttle_open, checked.tester_tight): {them}, and what all share reads the \
         same. Low again confirms it.",
        condition.label(),
        listed(cylinders)
    )
}

/// "Repeat the cold runs of cylinders 1 and 2, the wet run of cylinder 1: …".
fn repeat(runs: &[(Condition, Vec<String>)], why: Again) -> String {
    let runs: Vec<String> = runs
        .iter()
        .map(|(condition, names)| {
            let plural = if names.len() > 1 { "s" } else { "" };
            format!("the {} run{plural} of {}", condition.label(), listed(names))
        })
        .collect();
    let why = match why {
        Again::Climbing => "cranking ended before the reading settled",
        Again::Poor => "the test itself was poor",
    };
    format!("Repeat {}: {why}.", runs.join(", "))
}

fn wet(cylinders: &[String], dose_cm3: f64, chamber_known: bool) -> String {
    let most = if chamber_known {
        String::new()
    } else {
        format!(", or {BY_HAND}")
    };
    format!(
        "Make a wet run of {}: {} of oil and no more{most}; turn it by hand first, then a few \
         turns to spread it. A clear rise points to rings.",
        listed(cylinders),
        measured(dose_cm3)
    )
}

/// What the place tells where air is heard: a two-stroke has no valves to listen at and a diesel no
/// carburettor.
const fn heard(two_stroke: bool, diesel: bool, fuel: Option<Fuel>) -> &'static str {
    match (two_stroke, diesel, fuel) {
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
    }
}

fn look(what: Look, named: &str) -> String {
    match what {
        Look::Clearances => format!(
            "Check and set the valve clearances of {named}, then read again: a valve held open by \
             too little clearance reads like a burnt one."
        ),
        Look::ClearancesFirst => {
            format!("Check the valve clearances of {named} first: it costs nothing.")
        }
        Look::Head => format!(
            "Check the head's tightness at {named}, then read them again before condemning rings \
             or valves."
        ),
        Look::RingsByPort => {
            format!("Rings of {named}: look at piston and bore through the exhaust port.")
        }
        Look::RingsByBreather => {
            format!("Rings of {named}: look for oil smoke and blow-by at the breather.")
        }
        Look::Chamber => format!(
            "Look into {named} through the plug hole for deposits, and check what head and gasket \
             are fitted."
        ),
        Look::Timing => {
            "Check valve clearances, cam lift and the timing marks: all cylinders are low alike."
                .to_owned()
        }
    }
}
