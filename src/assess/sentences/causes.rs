//! Causes, and what speaks for them.

use crate::assess::results::{CauseKind, Sign, ValveSide};
use crate::assess::saying::Suspicion;
use crate::leakdown::words;

/// What a cause is, worded as what the readings are consistent with.
pub(super) fn suspicion(suspicion: &Suspicion) -> String {
    let name = &suspicion.cylinder;
    match suspicion.kind {
        CauseKind::Healthy => format!("Consistent with a healthy cylinder {name}."),
        CauseKind::Rings => {
            format!("Consistent with worn or stuck rings, or a worn bore, in cylinder {name}.")
        }
        CauseKind::Valve => valve(name, suspicion.valve),
        CauseKind::Gasket => gasket(suspicion),
        CauseKind::RingsOrValve => format!(
            "Consistent with a leak past the rings or a valve of cylinder {name}; without a wet \
             run the two are not told apart."
        ),
        CauseKind::HighCompression if suspicion.all_high => {
            "Consistent with a compression ratio or a timing that the card has wrong, or with \
             deposits in every cylinder: all read more than the card predicts."
                .to_owned()
        }
        CauseKind::HighCompression => format!(
            "Consistent with deposits in cylinder {name}, or less clearance than the card says."
        ),
        CauseKind::ValveTiming => "Consistent with a worn cam or wrong valve timing: every \
                                   cylinder is low alike."
            .to_owned(),
        CauseKind::ThrottleShut => {
            "Consistent with a throttle (or choke) that was shut during the test.".to_owned()
        }
        CauseKind::SlowCranking => {
            "Consistent with an engine that was turned too slowly.".to_owned()
        }
        CauseKind::TesterLeak => {
            "Consistent with a tester that leaks at its seal, hose or check valve.".to_owned()
        }
    }
}

fn valve(name: &str, side: Option<ValveSide>) -> String {
    let side = match side {
        Some(ValveSide::Intake) => "intake",
        Some(ValveSide::Exhaust) => "exhaust",
        None => {
            return format!(
                "Consistent with an intake or exhaust valve of cylinder {name} that does not seal, \
                 or a gasket leaking outwards: the readings do not tell which."
            );
        }
    };
    format!(
        "Consistent with the {side} valve of cylinder {name} that does not seal: air is heard there."
    )
}

/// Of a twin both cylinders are low alike then, and so they are for what both share.
fn gasket(suspicion: &Suspicion) -> String {
    let [first, second] = &suspicion.pair;
    let else_ = if suspicion.twin {
        ", or with a throttle that was shut or wrong timing: both are low alike"
    } else {
        ""
    };
    format!("Consistent with a head gasket leaking between cylinders {first} and {second}{else_}.")
}

/// A piece of evidence; by what share of the reading a held one falls in a second, where it does.
pub(super) fn sign(sign: &Sign, falls: Option<f64>) -> String {
    match sign {
        Sign::OfExpected {
            cylinder,
            share,
            best_share,
        } => {
            let best = if (share - best_share).abs() > 0.005 {
                format!("; the best reads {} it", beside(*best_share))
            } else {
                String::new()
            };
            format!(
                "Cylinder {cylinder} reads {} what this engine should give{best}.",
                beside(*share)
            )
        }
        Sign::OfOthers { cylinder, share } if (share - 1.0).abs() < 0.005 => {
            format!("Cylinder {cylinder} reads the same as the best of the others.")
        }
        Sign::OfOthers { cylinder, share } if *share > 1.0 => {
            format!(
                "Cylinder {cylinder} is the highest, {} the next.",
                beside(*share)
            )
        }
        Sign::OfOthers { cylinder, share } => {
            format!(
                "Cylinder {cylinder} reads {} the best of the others.",
                beside(*share)
            )
        }
        Sign::Neighbour {
            cylinder,
            neighbour,
            share_of_best,
            share_of_neighbour,
        } => {
            let place = if *share_of_best >= 0.9995 {
                "is the best cylinder".to_owned()
            } else {
                format!("reads {} the best cylinder", beside(*share_of_best))
            };
            format!(
                "Its neighbour {neighbour} {place}; cylinder {cylinder} reads {} that neighbour.",
                beside(*share_of_neighbour)
            )
        }
        Sign::Oil {
            cylinder,
            change,
            by_volume_most,
        } => oil(cylinder, *change, *by_volume_most),
        Sign::HeldFalls {} => held(falls),
        Sign::Heard { cylinder, places } => {
            format!(
                "Leak-down test of cylinder {cylinder}: {}",
                words::heard(places)
            )
        }
    }
}

fn oil(cylinder: &str, change: f64, by_volume_most: Option<f64>) -> String {
    let moved = if (change * 100.0).abs() < 0.5 {
        "changed nothing".to_owned()
    } else if change > 0.0 {
        format!("raised the reading by {:.0} %", change * 100.0)
    } else {
        format!("lowered the reading by {:.0} %", -change * 100.0)
    };
    let volume = match by_volume_most {
        Some(most) if change > 0.005 => format!(
            ", of which the oil's own volume explains up to {:.0} %",
            most * 100.0
        ),
        Some(_) => String::new(),
        None => {
            "; how much of it is the oil's own volume the card does not let be computed".to_owned()
        }
    };
    format!("Oil in cylinder {cylinder} {moved}{volume}.")
}

fn held(falls: Option<f64>) -> String {
    match falls {
        Some(share) => format!(
            "The held reading falls by {:.1} % a second when nobody cranks.",
            share * 100.0
        ),
        None => "A held reading fell when nobody cranked.".to_owned(),
    }
}

/// A share as "12 % below" or "3 % above".
fn beside(share: f64) -> String {
    let percent = (share - 1.0) * 100.0;
    if percent.abs() < 0.5 {
        "the same as".to_owned()
    } else if percent < 0.0 {
        format!("{:.0} % below", -percent)
    } else {
        format!("{percent:.0} % above")
    }
}

#[cfg(test)]
mod tests;
