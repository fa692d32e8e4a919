//! Like with like: what a reading would have been at the conditions that all share.
//!
//! Common conditions: the median crank speed of the runs of that condition, the standard
//! atmosphere, a tester without volume at the plug hole, no oil in the chamber, working
//! temperature. Each correction is the ratio of two peaks of the stroke model
//! ([`crate::engine::stroke`]) with the cylinder's own leak. A third of every correction is taken
//! as its standard uncertainty: what the model leaves out is of that order.

use super::case::{Case, Entry};
use super::results::{Corrected, Correction, CorrectionKind};
use crate::engine::expected::{self, TightModel};
use crate::engine::stroke::Compression;
use crate::engine::{Condition, Geometry, JobCard};
use crate::units::{Pressure, Rate};

/// Standard uncertainty of a correction as a share of the correction.
const DOUBT: f64 = 1.0 / 3.0;
/// Share of the oil that is still in the chamber at the peak, on average (0 to 1); the rest has
/// gone past the rings.
pub(super) const OIL_LEFT: f64 = 0.5;

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
    let own = compression(case, card, condition, entry.crank)?;
    let leak = own.leak_mm2(entry.value)?;
    let peak = own.peak(leak);
    if peak.pa() <= 0.0 {
        return None;
    }
    let steps = [
        cadence(
            crank.filter(|_| entry.crank.is_some()),
            condition,
            &own,
            leak,
        ),
        ambient(case, &own, leak),
        dead_volume(&own, leak),
        oil(card, condition, &own, leak),
        warmth(condition, &own, leak),
    ];
    let parts: Vec<Correction> = steps.into_iter().flatten().collect();
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

/// The cylinder as it was when it was read: with the tester's volume, and oil if it was wet.
pub(super) fn compression(
    case: &Case<'_>,
    card: &JobCard,
    condition: Condition,
    crank: Option<Rate>,
) -> Option<Compression> {
    let dry = expected::compression(card, &case.ambient, crank, condition)?;
    Some(match (condition, wet_oil(card)) {
        (Condition::Wet, Some(oil)) => with_oil(&dry, oil * OIL_LEFT),
        _ => dry,
    })
}

/// The same with oil (cm³) lying in the chamber.
pub(super) fn with_oil(dry: &Compression, oil_cm3: f64) -> Compression {
    Compression {
        geometry: dry.geometry.with_oil_cm3(oil_cm3),
        ..*dry
    }
}

/// Oil put in for the wet run, cm³, if the card says.
pub(super) fn wet_oil(card: &JobCard) -> Option<f64> {
    card.tester.as_ref().and_then(|tester| tester.wet_oil_cm3)
}

/// The crank speed that the runs of a condition have in common: their median.
fn common_crank(case: &Case<'_>, condition: Condition) -> Option<Rate> {
    let mut rates: Vec<f64> = case
        .of(condition)
        .iter()
        .filter_map(|(_, entry)| entry.crank.map(Rate::hz))
        .collect();
    rates.sort_by(f64::total_cmp);
    let middle = rates.len() / 2;
    let upper = rates.get(middle)?;
    let lower = if rates.len().is_multiple_of(2) {
        rates.get(middle.checked_sub(1)?)?
    } else {
        upper
    };
    Some(Rate::from_hz((lower + upper) / 2.0))
}

/// One correction from the peak of a changed cylinder; none where it changes next to nothing.
fn step(
    kind: CorrectionKind,
    own: &Compression,
    changed: &Compression,
    leak: f64,
    text: &str,
) -> Option<Correction> {
    let factor = changed.peak(leak) / own.peak(leak);
    let notable = factor.is_finite() && factor > 0.0 && (factor - 1.0).abs() >= 1e-4;
    notable.then(|| Correction {
        kind,
        factor,
        factor_standard: (factor - 1.0).abs() * DOUBT,
        text: format!("{text} (× {factor:.3}, stroke model)"),
    })
}

fn cadence(
    common: Option<Rate>,
    condition: Condition,
    own: &Compression,
    leak: f64,
) -> Option<Correction> {
    let common = common?;
    let changed = Compression {
        crank: common,
        exponent: TightModel::shipped().exponent(&own.geometry, common, condition),
        ..*own
    };
    let text = format!(
        "from {:.0} to the common {:.0} crank turns a minute",
        own.crank.per_min(),
        common.per_min()
    );
    step(CorrectionKind::Cadence, own, &changed, leak, &text)
}

fn ambient(case: &Case<'_>, own: &Compression, leak: f64) -> Option<Correction> {
    let changed = Compression {
        start_absolute: Pressure::ATMOSPHERE,
        ambient_absolute: Pressure::ATMOSPHERE,
        ..*own
    };
    let text = format!(
        "from {} ambient to the standard atmosphere",
        case.show(own.ambient_absolute)
    );
    step(CorrectionKind::Ambient, own, &changed, leak, &text)
}

fn dead_volume(own: &Compression, leak: f64) -> Option<Correction> {
    let geometry = Geometry {
        dead_m3: 0.0,
        ..own.geometry
    };
    let text = format!(
        "the tester's {:.1} cm³ at the plug hole taken off",
        own.geometry.dead_m3 * 1e6
    );
    let changed = Compression { geometry, ..*own };
    step(CorrectionKind::DeadVolume, own, &changed, leak, &text)
}

fn oil(card: &JobCard, condition: Condition, own: &Compression, leak: f64) -> Option<Correction> {
    if condition != Condition::Wet {
        return None;
    }
    let geometry = Geometry {
        oil_m3: 0.0,
        ..own.geometry
    };
    let text = format!(
        "the space that {:.0} cm³ of oil takes, {:.0} % of it still in the chamber, taken off",
        wet_oil(card)?,
        OIL_LEFT * 100.0
    );
    let changed = Compression { geometry, ..*own };
    step(CorrectionKind::Oil, own, &changed, leak, &text)
}

fn warmth(condition: Condition, own: &Compression, leak: f64) -> Option<Correction> {
    if condition != Condition::ColdDry {
        return None;
    }
    let exponent = TightModel::shipped().exponent(&own.geometry, own.crank, Condition::WarmDry);
    let changed = Compression { exponent, ..*own };
    let text = "from cold to working temperature".to_owned();
    step(CorrectionKind::Warmth, own, &changed, leak, &text)
}
