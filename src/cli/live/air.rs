//! What tests with air are made with, as far as the card says it.

use crate::engine::JobCard;
use crate::leakdown::Restrictor;

/// The restrictor: as asked for, as the card says, or a usual one.
pub(in crate::cli) fn restrictor(asked: Option<Restrictor>, card: Option<&JobCard>) -> Restrictor {
    let by_card = card.and_then(|card| card.tester.as_ref()?.restrictor_mm);
    asked.unwrap_or_else(|| {
        let usual = Restrictor::default();
        Restrictor {
            diameter_mm: by_card.unwrap_or(usual.diameter_mm),
            ..usual
        }
    })
}

/// Volume of the tester, where the card says it, cm³.
pub(in crate::cli) fn tester_cm3(card: Option<&JobCard>) -> Option<f64> {
    let tester = card?.tester.as_ref()?;
    let (dead, hose) = (tester.dead_volume_cm3?, tester.hose_volume_cm3);
    Some(dead + hose.unwrap_or(0.0))
}

/// Clearance and tester, where the card says both, cm³.
pub(in crate::cli) fn cylinder_cm3(card: Option<&JobCard>) -> Option<f64> {
    let engine = &card?.engine;
    let (bore, stroke) = (engine.bore_mm?, engine.stroke_mm?);
    let swept = core::f64::consts::FRAC_PI_4 * bore * bore * stroke * 1e-3;
    Some(swept / (engine.compression_ratio? - 1.0) + tester_cm3(card)?)
}
