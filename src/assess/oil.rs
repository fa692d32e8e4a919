//! What oil did to a cylinder, held against what its own volume does and against what it would do
//! to a leak past the rings.
//!
//! The leak area behind the dry reading and that behind the wet one, both by the stroke model, are
//! the heart of it: oil seals rings, so the area falls to a share of itself; a valve or a gasket
//! leaks on as before.

use super::case::{Case, Entry};
use super::change::dry_beside_wet;
use super::correct::{OIL_LEFT, compression, wet_oil, with_oil};
use crate::engine::Condition;
use crate::engine::stroke::Compression;
use crate::signal::Rig;

/// What is left of a leak past the rings once they are oiled (0 to 1), as the model has it.
const RINGS_LEFT: f64 = 0.4;
/// Part of the rise that oil's volume gives where the card does not let compute it: half the oil
/// of a tenth of the chamber.
const USUAL_BY_VOLUME: f64 = 0.05;
/// Least leak that ratios of areas are formed with, mm².
const LEAST_AREA: f64 = 0.01;
/// Strokes within which the oil is still where it was poured.
const EARLY_STROKES: usize = 3;

/// A cylinder's change with oil. Changes are natural logarithms of pressure ratios.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Oiled {
    /// Wet over dry beyond what the oil's volume is likely to explain, at the cadence of each.
    pub beyond: f64,
    /// What the card allows to be said besides.
    pub modelled: Option<Modelled>,
}

/// What needs the stroke model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Modelled {
    /// What [`Oiled::beyond`] would be if all that leaks leaks past the rings.
    pub if_rings: f64,
    /// Standard uncertainty of [`Oiled::beyond`].
    pub standard: f64,
    /// Logarithm of the wet leak area over the dry one.
    pub area: f64,
    /// As [`Oiled::beyond`] for the best of the first strokes, sensor without a check valve.
    pub early: Option<f64>,
}

impl Modelled {
    /// How much more likely the change is if the rings leak than if something else does:
    /// logarithm of the ratio of two normal densities of this uncertainty.
    pub(super) fn for_rings(&self, beyond: f64) -> f64 {
        let variance = self.standard * self.standard + MODEL * MODEL;
        self.if_rings * (beyond - 0.5 * self.if_rings) / variance
    }
}

/// What the stroke model itself may be wrong by in a change of one cylinder, standard.
const MODEL: f64 = 0.015;

/// What is usually put in where the card does not say, cm³: a tenth of the chamber, six at most
/// (common practice, no source).
fn usual_oil_cm3(cylinder: &Compression) -> f64 {
    (cylinder.geometry.clearance_m3() * 1e5).min(6.0)
}

/// The change of a cylinder with oil; none without a wet and a dry reading.
pub(super) fn oiled(case: &Case<'_>, at: usize) -> Option<Oiled> {
    let entries = &case.cylinders.get(at)?.entries;
    let wet = entries.get(&Condition::Wet).filter(|wet| above_zero(wet))?;
    let (condition, dry) = dry_beside_wet(entries).filter(|(_, dry)| above_zero(dry))?;
    let raw = libm::log(wet.value / dry.value);
    let fallback = Oiled {
        beyond: raw - USUAL_BY_VOLUME,
        modelled: None,
    };
    Some(modelled(case, condition, dry, wet, raw).unwrap_or(fallback))
}

fn above_zero(entry: &Entry<'_>) -> bool {
    entry.value.pa() > 0.0
}

fn modelled(
    case: &Case<'_>,
    condition: Condition,
    dry: &Entry<'_>,
    wet: &Entry<'_>,
    raw: f64,
) -> Option<Oiled> {
    let card = case.card?;
    // A speed that is known of one run only would be held against an assumed one.
    let both = dry.crank.is_some() && wet.crank.is_some();
    let at_speed =
        |entry: &Entry<'_>| compression(case, card, condition, entry.crank.filter(|_| both));
    let (dried, bare) = (at_speed(dry)?, at_speed(wet)?);
    let oil = wet_oil(card).unwrap_or_else(|| usual_oil_cm3(&bare));
    let area = dried.leak_mm2(dry.value)?;
    let log_peak = |cylinder: &Compression, area: f64| libm::log(cylinder.peak(area).pa());
    let half = with_oil(&bare, oil * OIL_LEFT);
    let before = log_peak(&dried, area);
    let by_half = log_peak(&half, area) - before;
    let by_all = log_peak(&with_oil(&bare, oil), area) - before;
    // Anything from none to all of the oil may be left: rectangular, GUM 4.3.7.
    let doubt = 2.0 * (by_all - by_half) / libm::sqrt(12.0);
    let noise = libm::hypot(wet.relative / wet.value, dry.relative / dry.value);
    let wet_area = half.leak_mm2(wet.value).unwrap_or(area);
    let best = wet
        .result
        .strokes
        .iter()
        .take(EARLY_STROKES)
        .map(|stroke| stroke.peak / dry.value)
        .fold(0.0, f64::max);
    let follows = wet.result.rig == Some(Rig::Following) && best > 0.0;
    let oiled = Oiled {
        beyond: raw - by_half,
        modelled: Some(Modelled {
            if_rings: log_peak(&half, area * RINGS_LEFT) - log_peak(&half, area),
            standard: libm::hypot(doubt, noise),
            area: libm::log(wet_area.max(LEAST_AREA) / area.max(LEAST_AREA)),
            early: follows.then(|| libm::log(best) - by_all),
        }),
    };
    oiled.beyond.is_finite().then_some(oiled)
}
