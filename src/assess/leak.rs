//! The effective leak of a cylinder in mm²: the hole that lets the stroke model read what was
//! read, at the cadence it was read at.

use super::case::{Case, Entry};
use super::results::LeakArea;
use crate::engine::Geometry;
use crate::engine::expected::{RATIO_DOUBT, TightModel, closing_doubt_deg};
use crate::engine::stroke::{Compression, leaks_mm2};

/// What a tester is likely to add to the chamber where the card does not say, standard: a share of
/// the clearance.
const DEAD_DOUBT: f64 = 0.02;

/// Relative standard uncertainty of the stroke model in a leak: how far it lay from the simulated
/// hole in 8,000 visits of our own simulator (seed 12).
pub(super) const MODEL_DOUBT: f64 = 0.157;

/// The leak behind a reading; none where the card does not give the geometry or the cadence is
/// not known. `model_doubt` is the relative standard uncertainty of the stroke model itself.
pub(super) fn area(case: &Case<'_>, entry: &Entry<'_>, model_doubt: f64) -> Option<LeakArea> {
    let card = case.card?;
    let (own, mm2) = (entry.own?, likely_mm2(entry)?);
    let g = own.geometry;
    let dead_known = card
        .tester
        .as_ref()
        .is_some_and(|t| t.dead_volume_cm3.is_some());
    let more_dead = if dead_known {
        0.0
    } else {
        DEAD_DOUBT * g.clearance_m3()
    };
    let air = 1.0 + case.ambient.standard / case.ambient.absolute;
    let with = |geometry: Geometry| Compression { geometry, ..own };
    let moved = leaks_mm2(&[
        (own, entry.value - entry.standard),
        // A better tight cylinder needs a larger hole to read the same.
        (
            Compression {
                exponent: own.exponent + TightModel::shipped().residual,
                ..own
            },
            entry.value,
        ),
        (
            with(Geometry {
                ratio: g.ratio * (1.0 + RATIO_DOUBT),
                ..g
            }),
            entry.value,
        ),
        (with(g.closing_later(-closing_doubt_deg(&g))), entry.value),
        (
            with(Geometry {
                dead_m3: g.dead_m3 - more_dead,
                ..g
            }),
            entry.value,
        ),
        (
            Compression {
                start_absolute: own.start_absolute * air,
                ambient_absolute: own.ambient_absolute * air,
                ..own
            },
            entry.value,
        ),
    ]);
    let of_model = model_doubt * mm2;
    let squares: f64 = moved
        .into_iter()
        .flatten()
        .map(|other| (other - mm2) * (other - mm2))
        .sum();
    Some(LeakArea {
        mm2,
        expanded_mm2: 2.0 * libm::sqrt(squares + of_model * of_model),
    })
}

/// The leak behind a reading, mm², where the cadence is known.
pub(super) fn likely_mm2(entry: &Entry<'_>) -> Option<f64> {
    entry.crank?;
    entry.leak_mm2
}
