//! Like with like: what a reading would have been at the conditions that all share.
//!
//! Common conditions: the median crank speed of the runs of that condition, the standard
//! atmosphere, a tester without volume at the plug hole, no oil in the chamber, working
//! temperature. Each correction is the ratio of two peaks of the stroke model
//! ([`crate::engine::stroke`]) with the cylinder's own leak. A third of every correction is taken
//! as its standard uncertainty: what the model leaves out is of that order.

use super::as_read::{OIL_LEFT, wet_oil};
use super::case::{Case, Entry};
use super::results::{Corrected, Correction, CorrectionKind};
use crate::engine::expected::TightModel;
use crate::engine::stroke::{Compression, peaks};
use crate::engine::{Condition, Geometry, JobCard};
use crate::units::{Pressure, Rate, median};

/// Standard uncertainty of a correction as a share of the correction.
const DOUBT: f64 = 1.0 / 3.0;
/// Corrects a reading; none where the card is too thin or nothing differs.
pub(super) fn corrected(
    case: &Case<'_>,
    condition: Condition,
    entry: &Entry<'_>,
) -> Option<Corrected> {
    corrected_to(case, condition, entry, common_crank(case, condition))
        .filter(|corrected| !corrected.parts.is_empty())
}

/// As [`corrected`], to a crank speed of the caller's; also where nothing differs.
pub(super) fn corrected_to(
    case: &Case<'_>,
    condition: Condition,
    entry: &Entry<'_>,
    crank: Option<Rate>,
) -> Option<Corrected> {
    let card = case.card?;
    let (own, leak) = (entry.own?, entry.leak_mm2?);
    let changes = [
        cadence(crank.filter(|_| entry.crank.is_some()), condition, &own),
        Some(ambient(case, &own)),
        Some(dead_volume(&own)),
        oil(card, condition, &own),
        warmth(condition, &own),
    ];
    let changes: Vec<Change> = changes.into_iter().flatten().collect();
    let mut strokes = vec![(own, leak)];
    strokes.extend(changes.iter().map(|change| (change.cylinder, leak)));
    let peaks = peaks(&strokes);
    let (peak, changed) = peaks.split_first()?;
    if peak.pa() <= 0.0 {
        return None;
    }
    let parts: Vec<Correction> = changes
        .into_iter()
        .zip(changed)
        .filter_map(|(change, changed)| change.correction(*changed / *peak))
        .collect();
    let factor: f64 = parts.iter().map(|part| part.factor).product();
    let value = entry.value * factor;
    // Ambient pressure and tester are the same for all: their doubt cancels in a comparison.
    let squares: f64 = parts
        .iter()
        .filter(|part| {
            !matches!(
                part.kind,
                CorrectionKind::Ambient | CorrectionKind::DeadVolume
            )
        })
        .map(|part| {
            let relative = part.factor_standard / part.factor;
            relative * relative
        })
        .sum();
    let doubt = value * libm::sqrt(squares);
    let relative = entry.relative * factor;
    factor.is_finite().then(|| Corrected {
        value,
        expanded_relative: Pressure::from_pa(2.0 * libm::hypot(relative.pa(), doubt.pa())),
        parts,
    })
}

/// The crank speed that the runs of a condition have in common: their median.
fn common_crank(case: &Case<'_>, condition: Condition) -> Option<Rate> {
    let mut rates: Vec<f64> = case
        .of(condition)
        .iter()
        .filter_map(|(_, entry)| entry.crank.map(Rate::hz))
        .collect();
    median(&mut rates).map(Rate::from_hz)
}

/// A cylinder with one thing as all share it.
struct Change {
    kind: CorrectionKind,
    cylinder: Compression,
    text: String,
}

impl Change {
    /// From the ratio of the changed cylinder's peak to its own; none where it is next to nothing.
    fn correction(self, factor: f64) -> Option<Correction> {
        let notable = factor.is_finite() && factor > 0.0 && (factor - 1.0).abs() >= 1e-4;
        notable.then(|| Correction {
            kind: self.kind,
            factor,
            factor_standard: (factor - 1.0).abs() * DOUBT,
            text: format!("{} (× {factor:.3}, stroke model)", self.text),
        })
    }
}

fn cadence(common: Option<Rate>, condition: Condition, own: &Compression) -> Option<Change> {
    let common = common?;
    Some(Change {
        kind: CorrectionKind::Cadence,
        cylinder: Compression {
            crank: common,
            exponent: TightModel::shipped().exponent(&own.geometry, common, condition),
            ..*own
        },
        text: format!(
            "from {:.0} to the common {:.0} crank turns a minute",
            own.crank.per_min(),
            common.per_min()
        ),
    })
}

fn ambient(case: &Case<'_>, own: &Compression) -> Change {
    Change {
        kind: CorrectionKind::Ambient,
        cylinder: Compression {
            start_absolute: Pressure::ATMOSPHERE,
            ambient_absolute: Pressure::ATMOSPHERE,
            ..*own
        },
        text: format!(
            "from {} ambient to the standard atmosphere",
            case.show(own.ambient_absolute)
        ),
    }
}

fn dead_volume(own: &Compression) -> Change {
    let geometry = Geometry {
        dead_m3: 0.0,
        ..own.geometry
    };
    Change {
        kind: CorrectionKind::DeadVolume,
        cylinder: Compression { geometry, ..*own },
        text: format!(
            "the tester's {:.1} cm³ at the plug hole taken off",
            own.geometry.dead_m3 * 1e6
        ),
    }
}

fn oil(card: &JobCard, condition: Condition, own: &Compression) -> Option<Change> {
    if condition != Condition::Wet {
        return None;
    }
    let geometry = Geometry {
        oil_m3: 0.0,
        ..own.geometry
    };
    Some(Change {
        kind: CorrectionKind::Oil,
        cylinder: Compression { geometry, ..*own },
        text: format!(
            "the space that {:.0} cm³ of oil takes, {:.0} % of it still in the chamber, taken off",
            wet_oil(card)?,
            OIL_LEFT * 100.0
        ),
    })
}

fn warmth(condition: Condition, own: &Compression) -> Option<Change> {
    if condition != Condition::ColdDry {
        return None;
    }
    let exponent = TightModel::shipped().exponent(&own.geometry, own.crank, Condition::WarmDry);
    Some(Change {
        kind: CorrectionKind::Warmth,
        cylinder: Compression { exponent, ..*own },
        text: "from cold to working temperature".to_owned(),
    })
}
