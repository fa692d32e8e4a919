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
use super::saying::{Like, Saying};
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
) -> Option<Corrected<Saying>> {
    corrected_to(case, condition, entry, common_crank(case, condition))
        .filter(|corrected| !corrected.parts.is_empty())
}

/// As [`corrected`], to a crank speed of the caller's; also where nothing differs.
pub(super) fn corrected_to(
    case: &Case<'_>,
    condition: Condition,
    entry: &Entry<'_>,
    crank: Option<Rate>,
) -> Option<Corrected<Saying>> {
    let card = case.card?;
    let (own, leak) = (entry.own?, entry.leak_mm2?);
    let changes = [
        cadence(crank.filter(|_| entry.crank.is_some()), condition, &own),
        Some(ambient(&own)),
        Some(dead_volume(&own)),
        oil(card, condition, &own),
        warmth(condition, &own),
    ];
    let changes: Vec<Alike> = changes.into_iter().flatten().collect();
    let mut strokes = vec![(own, leak)];
    strokes.extend(changes.iter().map(|change| (change.cylinder, leak)));
    let peaks = peaks(&strokes);
    let (peak, changed) = peaks.split_first()?;
    if peak.pa() <= 0.0 {
        return None;
    }
    let parts: Vec<Correction<Saying>> = changes
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
struct Alike {
    kind: CorrectionKind,
    cylinder: Compression,
    like: Like,
}

impl Alike {
    /// From the ratio of the changed cylinder's peak to its own; none where it is next to nothing.
    fn correction(self, factor: f64) -> Option<Correction<Saying>> {
        let notable = factor.is_finite() && factor > 0.0 && (factor - 1.0).abs() >= 1e-4;
        notable.then(|| Correction {
            kind: self.kind,
            factor,
            factor_standard: (factor - 1.0).abs() * DOUBT,
            text: Saying::Correction {
                like: self.like,
                factor,
            },
        })
    }
}

fn cadence(common: Option<Rate>, condition: Condition, own: &Compression) -> Option<Alike> {
    let common = common?;
    Some(Alike {
        kind: CorrectionKind::Cadence,
        cylinder: Compression {
            crank: common,
            exponent: TightModel::shipped().exponent(&own.geometry, common, condition),
            ..*own
        },
        like: Like::Cadence {
            from: own.crank,
            to: common,
        },
    })
}

fn ambient(own: &Compression) -> Alike {
    Alike {
        kind: CorrectionKind::Ambient,
        cylinder: Compression {
            start_absolute: Pressure::ATMOSPHERE,
            ambient_absolute: Pressure::ATMOSPHERE,
            ..*own
        },
        like: Like::Ambient {
            from: own.ambient_absolute,
        },
    }
}

fn dead_volume(own: &Compression) -> Alike {
    let geometry = Geometry {
        dead_m3: 0.0,
        ..own.geometry
    };
    Alike {
        kind: CorrectionKind::DeadVolume,
        cylinder: Compression { geometry, ..*own },
        like: Like::DeadVolume {
            m3: own.geometry.dead_m3,
        },
    }
}

fn oil(card: &JobCard, condition: Condition, own: &Compression) -> Option<Alike> {
    if condition != Condition::Wet {
        return None;
    }
    let geometry = Geometry {
        oil_m3: 0.0,
        ..own.geometry
    };
    Some(Alike {
        kind: CorrectionKind::Oil,
        cylinder: Compression { geometry, ..*own },
        like: Like::Oil {
            cm3: wet_oil(card)?,
            left: OIL_LEFT,
        },
    })
}

fn warmth(condition: Condition, own: &Compression) -> Option<Alike> {
    if condition != Condition::ColdDry {
        return None;
    }
    let exponent = TightModel::shipped().exponent(&own.geometry, own.crank, Condition::WarmDry);
    Some(Alike {
        kind: CorrectionKind::Warmth,
        cylinder: Compression { exponent, ..*own },
        like: Like::Warmth,
    })
}
