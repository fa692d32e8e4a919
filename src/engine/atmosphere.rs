//! The standard atmosphere, for when the ambient pressure was not measured.
//!
//! U.S. Standard Atmosphere 1976 (the same as ISO 2533 at these heights), troposphere only.
//! Heights here are **geopotential** metres; a map's (geometric) height differs by less than
//! 0.02 % in pressure up to 3000 m.

use super::Site;
use crate::units::{Pressure, Temperature};

/// Temperature at sea level in kelvin.
const SEA_LEVEL_K: f64 = 288.15;
/// Fall of temperature in kelvin a metre.
const LAPSE_K_PER_M: f64 = 0.0065;
/// g₀·M/(R·lapse) = 9.80665 · 0.0289644 / (8.31432 · 0.0065).
const EXPONENT: f64 = 9.806_65 * 0.028_964_4 / (8.314_32 * LAPSE_K_PER_M);
/// Radius of the earth in the 1976 standard, metres.
const EARTH_M: f64 = 6_356_766.0;

/// Absolute pressure at a geopotential height in metres (−500 to 11 000; clamped outside).
pub fn pressure_absolute(height_m: f64) -> Pressure {
    Pressure::ATMOSPHERE * pressure_ratio(height_m)
}

/// Temperature at a geopotential height in metres.
pub fn temperature(height_m: f64) -> Temperature {
    Temperature::from_kelvin(SEA_LEVEL_K * theta(height_m))
}

/// Pressure over that at sea level (δ). A cranking reading goes with this ratio: compression
/// multiplies the absolute pressure, and the gauge reading falls in the same proportion.
pub fn pressure_ratio(height_m: f64) -> f64 {
    libm::pow(theta(height_m), EXPONENT)
}

/// Density over that at sea level (σ). The workshop's altitude factors (0.971 at 1000 ft, 0.862
/// at 5000 ft) are this ratio.
pub fn density_ratio(height_m: f64) -> f64 {
    libm::pow(theta(height_m), EXPONENT - 1.0)
}

/// Geopotential height of a geometric one, both in metres.
pub fn geopotential_m(geometric_m: f64) -> f64 {
    EARTH_M * geometric_m / (EARTH_M + geometric_m)
}

/// Temperature over that at sea level.
fn theta(height_m: f64) -> f64 {
    1.0 - LAPSE_K_PER_M * height_m.clamp(-500.0, 11_000.0) / SEA_LEVEL_K
}

/// The air around the engine and how it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ambient {
    /// Ambient pressure, absolute.
    pub absolute: Pressure,
    /// Standard uncertainty of [`Self::absolute`].
    pub standard: Pressure,
    /// How it is known.
    pub known: AmbientKnown,
}

/// How the ambient pressure is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AmbientKnown {
    /// Given on the card as a station pressure.
    Given,
    /// From the card's height by the standard atmosphere.
    FromAltitude,
    /// Nothing on the card: sea level is assumed.
    Assumed,
}

impl Ambient {
    /// From the card's site. Weather moves station pressure by about 1 % (one standard
    /// deviation, common practice, no source); an unknown height by far more.
    pub fn of(site: Option<&Site>) -> Self {
        let given = site.and_then(|site| site.ambient_absolute);
        let height = site.and_then(|site| site.altitude_m);
        match (given, height) {
            (Some(absolute), _) => Self {
                absolute,
                standard: absolute * 0.002,
                known: AmbientKnown::Given,
            },
            (None, Some(height)) => {
                let absolute = pressure_absolute(height);
                Self {
                    absolute,
                    standard: absolute * 0.01,
                    known: AmbientKnown::FromAltitude,
                }
            }
            (None, None) => Self {
                absolute: Pressure::ATMOSPHERE,
                standard: Pressure::ATMOSPHERE * 0.03,
                known: AmbientKnown::Assumed,
            },
        }
    }
}
