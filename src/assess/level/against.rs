//! What a level is held against: limits as they stand here, and what the engine should give.

use crate::assess::case::{Case, Entry};
use crate::assess::rules::AltitudeRule;
use crate::engine::Condition;
use crate::engine::expected::{self, Expected};
use crate::units::Pressure;

/// What the expectation is for one reading.
pub(in crate::assess) fn expected_for(
    case: &Case<'_>,
    condition: Condition,
    entry: &Entry<'_>,
) -> Option<Expected> {
    *entry
        .expected
        .get_or_init(|| expected::expected(case.card?, &case.ambient, entry.crank, condition))
}

/// Whether the card gives a limit of its own for a level.
pub(in crate::assess) fn card_limits(case: &Case<'_>) -> bool {
    let limits = case.card.and_then(|card| card.limits.as_ref());
    limits.is_some_and(|l| l.service_limit.is_some() || l.normal_low.is_some())
}

/// How a limit written for sea level stands here, as a factor.
pub(in crate::assess) fn limit_factor(case: &Case<'_>) -> f64 {
    let delta = case.ambient.absolute / Pressure::ATMOSPHERE;
    // Density goes with the pressure to the power 1 − 1/5.25588 in the standard atmosphere.
    let sigma = libm::pow(delta, 1.0 - 1.0 / 5.255_88);
    match case.rules.altitude {
        AltitudeRule::PressureRatio => delta,
        AltitudeRule::DensityRatio => sigma,
        AltitudeRule::None => 1.0,
    }
}
