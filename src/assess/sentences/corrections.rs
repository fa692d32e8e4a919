//! What a reading was corrected for, and what an expected one rests on.

use super::shown::Units;
use crate::assess::saying::Like;
use crate::engine::expected::Basis;

/// What was done, and by which model.
pub(super) fn correction(like: &Like, factor: f64, units: Units) -> String {
    let done = match like {
        Like::Cadence { from, to } => format!(
            "from {:.0} to the common {:.0} crank turns a minute",
            from.per_min(),
            to.per_min()
        ),
        Like::Ambient { from } => format!(
            "from {} ambient to the standard atmosphere",
            units.show(*from)
        ),
        Like::DeadVolume { m3 } => format!(
            "the tester's {:.1} cm³ at the plug hole taken off",
            m3 * 1e6
        ),
        Like::Oil { cm3, left } => format!(
            "the space that {cm3:.0} cm³ of oil takes, {:.0} % of it still in the chamber, taken off",
            left * 100.0
        ),
        Like::Warmth => "from cold to working temperature".to_owned(),
    };
    format!("{done} (× {factor:.3}, stroke model)")
}

/// What an expected reading rests on, and how sure that is.
pub(super) const fn basis(basis: Basis) -> &'static str {
    match basis {
        Basis::Card => "from the card's bore, stroke, ratio and valve or port timing",
        Basis::UsualClosing => {
            "from the card's bore, stroke and ratio, with a usual valve or port timing: less sure"
        }
        Basis::RatioOnly => {
            "from the compression ratio alone: a wide range, a check on nonsense and no verdict"
        }
    }
}
