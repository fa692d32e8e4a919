//! Compressible flow through an orifice.
//!
//! Isentropic flow to the throat, choked where the pressure ratio asks for it (NASA Glenn
//! Research Center, "Mass Flow Choking").

/// Pressure differences below about this share of the upstream pressure flow in proportion to
/// the difference, not to its square root: laminar, and without the square root's infinite slope
/// that no explicit integrator can follow. The flow is 0.6 % off at 3 % difference, 0.06 % at 10 %.
const LAMINAR: f64 = 5e-3;

/// Up to this share of the upstream pressure a series stands for the power function.
const SERIES: f64 = 0.1;

/// The gas on the upstream side of an orifice.
#[derive(Clone, Copy, Debug)]
pub struct Upstream {
    /// Absolute pressure in Pa.
    pub pressure: f64,
    /// Temperature in K.
    pub temperature: f64,
    /// Ratio of specific heats, 1.2 to 1.67.
    pub gamma: f64,
    /// Specific gas constant in J/(kg K).
    pub gas_constant: f64,
}

/// Mass flow in kg/s through an effective area (discharge coefficient × area) in m², from
/// `upstream` to the absolute pressure `downstream` in Pa, which must not be the higher one.
#[inline]
pub fn mass_flow(effective_area: f64, upstream: Upstream, downstream: f64) -> f64 {
    let rt = upstream.gas_constant * upstream.temperature;
    let expansion = Expansion::new(upstream.gamma);
    expansion.mass_flow(effective_area, upstream.pressure, rt, downstream)
}

/// What the flow depends on by way of the ratio of specific heats alone.
#[derive(Clone, Copy, Debug)]
pub(super) struct Expansion {
    pub(super) gamma: f64,
    /// One over gamma.
    k: f64,
    /// Coefficients of the series for the power function.
    series: [f64; 3],
}

impl Expansion {
    #[inline]
    pub(super) fn new(gamma: f64) -> Self {
        let k = 1.0 / gamma;
        let a2 = k / 2.0;
        let a3 = a2 * (2.0 - k) / 3.0;
        let a4 = a3 * (3.0 - k) / 4.0;
        Self {
            gamma,
            k,
            series: [a2, a3, a4],
        }
    }

    /// As [`mass_flow`], from `pressure` in Pa and `rt` (gas constant × temperature) in J/kg.
    #[inline]
    pub(super) fn mass_flow(
        &self,
        effective_area: f64,
        pressure: f64,
        rt: f64,
        downstream: f64,
    ) -> f64 {
        let ratio = downstream / pressure;
        // The square of the flow function, so that one root does for all.
        let squared = if ratio < 0.6 && ratio <= critical_ratio(self.gamma) {
            let choked = choked_factor(self.gamma);
            choked * choked
        } else {
            self.subsonic_squared(ratio)
        };
        effective_area * pressure * (squared / rt).sqrt()
    }

    /// `2γ/(γ−1) · (r^(2/γ) − r^((γ+1)/γ))` with one power at most.
    #[inline]
    fn subsonic_squared(&self, ratio: f64) -> f64 {
        let drop = 1.0 - ratio;
        let k = self.k;
        if drop > SERIES {
            let y = libm::pow(ratio, k);
            return 2.0 / (1.0 - k) * y * (y - ratio);
        }
        // With d = 1 − r:  y = r^k  and  (y − r)/((1 − k) d), both as series in d.
        let [a2, a3, a4] = self.series;
        let rest = 1.0 - drop * (a2 + drop * (a3 + drop * a4));
        let y = ratio + (1.0 - k) * drop * rest;
        // d, turned to its square within the laminar range.
        let bent = drop * drop / (drop * drop + LAMINAR * LAMINAR).sqrt();
        2.0 * bent * y * rest
    }
}

/// Pressure ratio below which the flow is choked, `(2/(γ+1))^(γ/(γ−1))`.
///
/// The parabola through γ = 1.3, 1.35 and 1.4; within 2e-6 of the formula from 1.25 to 1.45.
#[inline]
pub fn critical_ratio(gamma: f64) -> f64 {
    parabola(gamma, [0.545_727_733_8, 0.536_851_218_4, 0.528_281_787_7])
}

/// Choked flow function `√γ · (2/(γ+1))^((γ+1)/(2(γ−1)))`, as [`critical_ratio`].
#[inline]
pub fn choked_factor(gamma: f64) -> f64 {
    parabola(gamma, [0.667_262_351_2, 0.676_144_875_1, 0.684_731_456_4])
}

#[inline]
fn parabola(gamma: f64, at: [f64; 3]) -> f64 {
    let x = (gamma - 1.35) / 0.05;
    at[1] + x * (at[2] - at[0]) / 2.0 + x * x * (at[2] - 2.0 * at[1] + at[0]) / 2.0
}

/// Steepest flow function against the share of pressure lost, `√(2/LAMINAR)`.
pub(super) const STEEPEST: f64 = 20.0;

/// The largest rate (1/s) at which a volume in m³ can answer to an orifice on it: what a
/// time step has to be short against. `root_rt` is √(R T) of the hotter side, in m/s.
#[inline]
pub(super) fn fastest_rate(effective_area: f64, volume: f64, root_rt: f64) -> f64 {
    1.4 * STEEPEST * effective_area * root_rt / volume
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parabolas_follow_the_formulas() {
        for gamma in [1.25, 1.3, 1.32, 1.35, 1.38, 1.4, 1.45] {
            let base = 2.0 / (gamma + 1.0);
            let ratio = libm::pow(base, gamma / (gamma - 1.0));
            let factor = gamma.sqrt() * libm::pow(base, (gamma + 1.0) / (2.0 * (gamma - 1.0)));
            assert!((critical_ratio(gamma) - ratio).abs() < 2e-5, "{gamma}");
            assert!((choked_factor(gamma) - factor).abs() < 2e-5, "{gamma}");
        }
    }

    #[test]
    fn the_series_meets_the_power_function() {
        for gamma in [1.3, 1.36, 1.4] {
            let near = Expansion::new(gamma).subsonic_squared(1.0 - SERIES + 1e-12);
            let far = Expansion::new(gamma).subsonic_squared(1.0 - SERIES - 1e-12);
            assert!((near / far - 1.0).abs() < 2e-3, "{near} {far}");
        }
    }
}
