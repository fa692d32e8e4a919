//! Air through a small hole: choked where the pressure ratio asks for it (NASA Glenn, *Mass Flow
//! Choking*), and through two of them one behind the other.

use crate::units::{Pressure, Temperature};
use std::sync::LazyLock;

/// Gas constant of air, J/(kg·K).
pub const R_AIR: f64 = 287.05;
/// Ratio of specific heats of air.
const GAMMA: f64 = 1.4;

/// Mass flow in kg/s through an effective area (discharge coefficient times area) in mm², from an
/// absolute pressure and temperature into a lower absolute pressure; 0 with nothing to drive it.
pub fn mass_flow(
    effective_mm2: f64,
    upstream_absolute: Pressure,
    upstream: Temperature,
    downstream_absolute: Pressure,
) -> f64 {
    effective_mm2 * 1e-6 * upstream_absolute.pa() / libm::sqrt(R_AIR * upstream.kelvin())
        * driven(upstream_absolute, downstream_absolute)
}

/// Two holes one behind the other, in equilibrium, the gas as warm in both: the effective area of
/// the second over that of the first, from the absolute pressures before, between and behind them.
/// None where no air flows through the second.
pub fn series_ratio(
    before_absolute: Pressure,
    between_absolute: Pressure,
    behind_absolute: Pressure,
) -> Option<f64> {
    let out = between_absolute.pa() * driven(between_absolute, behind_absolute);
    let ratio = before_absolute.pa() * driven(before_absolute, between_absolute) / out;
    (out > 0.0 && ratio.is_finite()).then_some(ratio)
}

/// Nozzle function between two absolute pressures.
pub fn driven(upstream_absolute: Pressure, downstream_absolute: Pressure) -> f64 {
    nozzle(libm::log(downstream_absolute / upstream_absolute))
}

/// Nozzle function ψ of air, from the logarithm of the ratio of outside to inside pressure; 0 with
/// nothing to drive it.
pub(super) fn nozzle(ratio: f64) -> f64 {
    // Where the flow chokes, and ψ from there on: most of the stroke.
    static CHOKED: LazyLock<(f64, f64)> = LazyLock::new(|| {
        let critical = libm::log(2.0 / (GAMMA + 1.0)) * GAMMA / (GAMMA - 1.0);
        (critical, unchoked(critical))
    });
    let (critical, choked) = *CHOKED;
    match ratio {
        r if r >= 0.0 => 0.0,
        r if r > critical => unchoked(r),
        _ => choked,
    }
}

fn unchoked(ratio: f64) -> f64 {
    let driving = libm::exp(ratio * (2.0 / GAMMA)) - libm::exp(ratio * ((GAMMA + 1.0) / GAMMA));
    libm::sqrt(2.0 * GAMMA / (GAMMA - 1.0) * driving.max(0.0))
}
