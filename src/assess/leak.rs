//! The effective leak of a cylinder in mm²: the hole that lets the stroke model read what was
//! read, at the cadence it was read at.

use super::case::{Case, Entry};
use super::correct::compression;
use super::results::LeakArea;
use crate::engine::Condition;
use crate::engine::expected::TightModel;
use crate::engine::stroke::Compression;
use crate::units::Pressure;

/// The leak behind a reading; none where the card does not give the geometry or the cadence is
/// not known.
pub(super) fn area(case: &Case<'_>, condition: Condition, entry: &Entry<'_>) -> Option<LeakArea> {
    let card = case.card?;
    entry.crank?;
    let own = compression(case, card, condition, entry.crank)?;
    let mm2 = own.leak_mm2(entry.value)?;
    let moved = [
        with_reading(&own, entry.value - entry.standard),
        with_exponent(&own, entry.value),
        with_ratio(&own, entry.value),
    ];
    let squares: f64 = moved
        .into_iter()
        .map(|other| other.map_or(mm2, |other| other - mm2))
        .map(|change| change * change)
        .sum();
    Some(LeakArea {
        mm2,
        expanded_mm2: 2.0 * libm::sqrt(squares),
    })
}

fn with_reading(own: &Compression, value: Pressure) -> Option<f64> {
    own.leak_mm2(value)
}

/// The exponent moved up by its own doubt: a better tight cylinder needs a larger hole.
fn with_exponent(own: &Compression, value: Pressure) -> Option<f64> {
    let exponent = own.exponent + TightModel::shipped().residual;
    Compression { exponent, ..*own }.leak_mm2(value)
}

/// The card's ratio moved up by its doubt.
fn with_ratio(own: &Compression, value: Pressure) -> Option<f64> {
    let mut geometry = own.geometry;
    geometry.ratio *= 1.0 + crate::engine::expected::RATIO_DOUBT;
    Compression { geometry, ..*own }.leak_mm2(value)
}
