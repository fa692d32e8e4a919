//! Repairs, and what a buyer may allow for them.

use super::shown::percent;
use crate::assess::saying::Repair;

/// What a repair is called.
pub(super) const fn repair(repair: Repair) -> &'static str {
    match repair {
        Repair::TopEnd => "top-end job (rings and bore)",
        Repair::Valves => "valve job",
        Repair::Gasket => "head gasket",
        Repair::Decoke => "decoking",
        Repair::Timing => "cam or valve timing",
    }
}

/// What the readings support and what they do not.
pub(super) fn allowance(expected: f64, currency: &str, missing: &[(Repair, f64)]) -> String {
    let missing: Vec<String> = missing
        .iter()
        .map(|(job, probability)| format!("{} ({})", repair(*job), percent(*probability)))
        .collect();
    let left_out = if missing.is_empty() {
        String::new()
    } else {
        format!(
            "Not complete: the card gives no cost for: {}. ",
            missing.join(", ")
        )
    };
    format!(
        "{left_out}On average {expected:.0} {currency} over what the readings leave open, one job of each kind at \
         the most. The readings say how well the cylinders hold pressure while they are cranked. \
         They say nothing of bearings, gearbox, cooling, fuel or ignition, and they do not prove a \
         cause: a leak-down test does."
    )
}
