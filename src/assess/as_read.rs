//! The cylinder as it was when it was read: with the tester's volume, and the oil of a wet run.

use crate::engine::expected;
use crate::engine::stroke::Compression;
use crate::engine::{Ambient, Condition, JobCard};
use crate::units::Rate;

/// Share of the oil that is still in the chamber at the peak, on average (0 to 1); the rest has
/// gone past the rings.
pub(super) const OIL_LEFT: f64 = 0.5;

/// The cylinder as it was when it was read: with the tester's volume, and oil if it was wet.
pub(super) fn compression(
    card: &JobCard,
    ambient: &Ambient,
    condition: Condition,
    crank: Option<Rate>,
) -> Option<Compression> {
    let dry = expected::compression(card, ambient, crank, condition)?;
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
