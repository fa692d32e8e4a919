//! Air as an ideal gas whose specific heats follow temperature.

/// Molar gas constant in J/(mol K) (exact since the SI of 2019).
const MOLAR_GAS_CONSTANT: f64 = 8.314_462_618_153_24;
/// Molar mass of the mixture below in kg/mol.
const MOLAR_MASS: f64 = 0.78 * 28.0134e-3 + 0.21 * 31.9988e-3 + 0.01 * 39.948e-3;

/// An ideal gas with `cp/R = a0 + a1 T + a2 T² + a3 T³ + a4 T⁴`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    cp_over_r: [f64; 5],
    energy: [f64; 5],
    gas_constant: f64,
}

impl Air {
    /// Dry air of 78 % N₂, 21 % O₂ and 1 % Ar by volume.
    ///
    /// Source: the low-temperature ranges (200 K to 1000 K) of NASA's seven-coefficient
    /// polynomials (NASA Technical Memorandum 4513, 1993, as distributed with
    /// Cantera 3.2), mixed by volume. A cranked engine does not leave that range.
    pub fn dry() -> Self {
        const N2: [f64; 5] = [
            3.531_005_28,
            -1.236_609_87e-4,
            -5.029_994_37e-7,
            2.435_306_12e-9,
            -1.408_812_35e-12,
        ];
        const O2: [f64; 5] = [
            3.782_456_36,
            -2.996_734_15e-3,
            9.847_302_00e-6,
            -9.681_295_08e-9,
            3.243_728_36e-12,
        ];
        const AR: [f64; 5] = [2.5, 0.0, 0.0, 0.0, 0.0];
        let mix = std::array::from_fn(|i| 0.78 * N2[i] + 0.21 * O2[i] + 0.01 * AR[i]);
        Self::from_coefficients(mix, MOLAR_GAS_CONSTANT / MOLAR_MASS)
    }

    /// A gas with air's gas constant (287.05 J/(kg K)) and one ratio of specific heats, for
    /// checks against closed forms. `gamma` must be above 1.
    pub fn with_constant_gamma(gamma: f64) -> Self {
        Self::from_coefficients([gamma / (gamma - 1.0), 0.0, 0.0, 0.0, 0.0], 287.05)
    }

    fn from_coefficients(a: [f64; 5], gas_constant: f64) -> Self {
        let energy = [a[0] - 1.0, a[1] / 2.0, a[2] / 3.0, a[3] / 4.0, a[4] / 5.0];
        Self {
            cp_over_r: a,
            energy,
            gas_constant,
        }
    }

    /// Specific gas constant in J/(kg K).
    pub const fn gas_constant(&self) -> f64 {
        self.gas_constant
    }

    /// Specific heat at constant pressure over the gas constant, at `kelvin`.
    #[inline]
    pub fn cp_over_r(&self, kelvin: f64) -> f64 {
        horner(&self.cp_over_r, kelvin)
    }

    /// Ratio of specific heats at `kelvin`.
    #[inline]
    pub fn gamma(&self, kelvin: f64) -> f64 {
        let cp = self.cp_over_r(kelvin);
        cp / (cp - 1.0)
    }

    /// Specific internal energy in J/kg at `kelvin`, counted from 0 K along the fit.
    #[inline]
    pub fn internal_energy(&self, kelvin: f64) -> f64 {
        self.gas_constant * kelvin * horner(&self.energy, kelvin)
    }

    /// Specific enthalpy in J/kg at `kelvin`, counted from 0 K along the fit.
    pub fn enthalpy(&self, kelvin: f64) -> f64 {
        self.internal_energy(kelvin) + self.gas_constant * kelvin
    }

    /// The tangent to the internal energy at `kelvin`, from which [`Air::temperature`] is found.
    #[inline]
    pub(super) fn tangent(&self, kelvin: f64) -> Tangent {
        Tangent {
            kelvin,
            energy: self.internal_energy(kelvin),
            per_cv: 1.0 / (self.gas_constant * (self.cp_over_r(kelvin) - 1.0)),
        }
    }

    /// The temperature in kelvin at which the specific internal energy is `energy` (J/kg).
    ///
    /// A step of Newton's method from where the tangent touches, and one more with the same slope:
    /// from within 10 K the result is exact to 1e-7.
    #[inline]
    pub(super) fn temperature(&self, energy: f64, guess: &Tangent) -> f64 {
        let kelvin = guess.kelvin - (guess.energy - energy) * guess.per_cv;
        kelvin - (self.internal_energy(kelvin) - energy) * guess.per_cv
    }
}

/// The specific internal energy around a temperature.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Tangent {
    /// Where it touches, in K.
    kelvin: f64,
    /// Specific internal energy there, in J/kg.
    energy: f64,
    /// One over the specific heat at constant volume there, in kg K/J.
    per_cv: f64,
}

#[inline]
fn horner(a: &[f64; 5], x: f64) -> f64 {
    (((a[4] * x + a[3]) * x + a[2]) * x + a[1]) * x + a[0]
}

#[cfg(test)]
mod tests {
    use super::Air;

    #[test]
    fn temperature_inverts_internal_energy() {
        let air = Air::dry();
        for kelvin in [220.0, 300.0, 450.0, 700.0, 950.0] {
            let found = air.temperature(air.internal_energy(kelvin), &air.tangent(kelvin - 10.0));
            assert!((found - kelvin).abs() < 1e-7 * kelvin, "{kelvin}: {found}");
        }
    }
}
