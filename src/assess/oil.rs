//! What oil did to a cylinder, held against what its own volume does and against what it would do
//! to a leak past the rings.
//!
//! The leak area behind the dry reading and that behind the wet one, both by the stroke model, are
//! the heart of it: oil seals rings, so the area falls to a share of itself; a valve or a gasket
//! leaks on as before.

use super::as_read::{OIL_LEFT, compression, wet_oil, with_oil};
use super::case::{Case, Entry};
use super::change::dry_beside_wet;
use crate::engine::oil::most_cm3;
use crate::engine::stroke::{Compression, peaks};
use crate::engine::{Condition, JobCard, Start};
use crate::units::Rate;

/// What is left of a leak past the rings once they are oiled (0 to 1), as the model has it.
const RINGS_LEFT: f64 = 0.4;
/// Part of the rise that oil's volume gives where the card does not let compute it: half the oil
/// of a tenth of the chamber.
const USUAL_BY_VOLUME: f64 = 0.05;

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
}

/// What is put in where the card does not say, cm³: as much as a visit asks for.
fn usual_oil_cm3(cylinder: &Compression) -> f64 {
    most_cm3(Some(cylinder.geometry.clearance_m3() * 1e6))
}

/// The change of a cylinder with oil; none without a wet and a dry reading.
pub(super) fn oiled(case: &Case<'_>, at: usize) -> Option<Oiled> {
    let entries = &case.cylinders.get(at)?.entries;
    let wet = entries.get(&Condition::Wet).filter(|wet| above_zero(wet))?;
    let (condition, dry) = dry_beside_wet(entries).filter(|(_, dry)| above_zero(dry))?;
    let raw = libm::log(wet.value / dry.value);
    let (by_volume, modelled) = match modelled(case, condition, dry, wet) {
        Some((by_half, modelled)) => (by_half, Some(modelled)),
        None => (USUAL_BY_VOLUME, None),
    };
    let beyond = raw - by_volume;
    beyond.is_finite().then_some(Oiled { beyond, modelled })
}

fn above_zero(entry: &Entry<'_>) -> bool {
    entry.value.pa() > 0.0
}

/// The crank speeds that the two runs are held at.
fn speeds(card: &JobCard, dry: &Entry<'_>, wet: &Entry<'_>) -> (Option<Rate>, Option<Rate>) {
    // A speed that is known of one run only would be held against an assumed one.
    let Some((dry, wet)) = dry.crank.zip(wet.crank) else {
        return (None, None);
    };
    // A kick is a kick: between two runs its speed is surer than a few strokes tell.
    if matches!(card.engine.start, Some(Start::Kick | Start::PullCord)) {
        let both = Some(Rate::from_hz(libm::sqrt(dry.hz() * wet.hz())));
        return (both, both);
    }
    (Some(dry), Some(wet))
}

/// What the oil's volume is likely to explain of the change, and what else the stroke model says.
fn modelled(
    case: &Case<'_>,
    condition: Condition,
    dry: &Entry<'_>,
    wet: &Entry<'_>,
) -> Option<(f64, Modelled)> {
    let card = case.card?;
    let at_speed = |crank: Option<Rate>| compression(card, &case.ambient, condition, crank);
    let (dry_crank, wet_crank) = speeds(card, dry, wet);
    let (dried, bare) = (at_speed(dry_crank)?, at_speed(wet_crank)?);
    let oil = wet_oil(card).unwrap_or_else(|| usual_oil_cm3(&bare));
    let area = leak_mm2(&dried, dry)?;
    let half = with_oil(&bare, oil * OIL_LEFT);
    let [before, of_half, of_all, of_sealed] = log_peaks([
        (dried, area),
        (half, area),
        (with_oil(&bare, oil), area),
        (half, area * RINGS_LEFT),
    ]);
    let (by_half, by_all) = (of_half - before, of_all - before);
    // Anything from none to all of the oil may be left: rectangular, GUM 4.3.7.
    let doubt = 2.0 * (by_all - by_half) / libm::sqrt(12.0);
    let noise = libm::hypot(wet.relative / wet.value, dry.relative / dry.value);
    let modelled = Modelled {
        if_rings: of_sealed - of_half,
        standard: libm::hypot(doubt, noise),
    };
    by_half.is_finite().then_some((by_half, modelled))
}

/// Logarithms of the highest pressures; no number where there is none.
fn log_peaks<const N: usize>(strokes: [(Compression, f64); N]) -> [f64; N] {
    let mut logs = [f64::NAN; N];
    for (log, peak) in logs.iter_mut().zip(peaks(&strokes)) {
        *log = libm::log(peak.pa());
    }
    logs
}

/// The leak that lets this cylinder read what was read.
fn leak_mm2(cylinder: &Compression, entry: &Entry<'_>) -> Option<f64> {
    if entry.own.as_ref() == Some(cylinder) {
        return entry.leak_mm2;
    }
    cylinder.leak_mm2(entry.value)
}
