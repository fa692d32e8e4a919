//! Temperature, time and rate.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Implements the arithmetic that every additive quantity here shares.
macro_rules! arithmetic {
    ($name:ident) => {
        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl std::ops::Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl std::ops::Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl std::ops::Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
        impl std::ops::Div for $name {
            type Output = f64;
            fn div(self, other: Self) -> f64 {
                self.0 / other.0
            }
        }
        impl $name {
            /// The larger of the two; the other one where one is not a number.
            #[must_use]
            pub fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }
            /// The smaller of the two; the other one where one is not a number.
            #[must_use]
            pub fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }
            /// The size without its sign.
            #[must_use]
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }
            /// Whether the value is a finite number.
            pub fn is_finite(self) -> bool {
                self.0.is_finite()
            }
        }
    };
}
pub(crate) use arithmetic;

/// A thermodynamic temperature in kelvin.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize, JsonSchema,
)]
#[serde(transparent)]
pub struct Temperature(f64);
arithmetic!(Temperature);

impl Temperature {
    /// From kelvin.
    pub const fn from_kelvin(kelvin: f64) -> Self {
        Self(kelvin)
    }
    /// From degrees Celsius (0 °C = 273.15 K, NIST SP 811).
    pub fn from_celsius(celsius: f64) -> Self {
        Self(celsius + 273.15)
    }
    /// In kelvin.
    pub const fn kelvin(self) -> f64 {
        self.0
    }
    /// In degrees Celsius.
    pub fn celsius(self) -> f64 {
        self.0 - 273.15
    }
}

/// A point in time or a duration, in seconds. Which clock it belongs to is for its owner to say.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize, JsonSchema,
)]
#[serde(transparent)]
pub struct Time(f64);
arithmetic!(Time);

impl Time {
    /// Zero seconds.
    pub const ZERO: Self = Self(0.0);

    /// From seconds.
    pub const fn from_s(seconds: f64) -> Self {
        Self(seconds)
    }
    /// From whole microseconds.
    pub fn from_us(microseconds: u64) -> Self {
        Self(microseconds as f64 / 1e6)
    }
    /// In seconds.
    pub const fn s(self) -> f64 {
        self.0
    }
}

/// How often something happens, per second: strokes, crank revolutions, samples.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize, JsonSchema,
)]
#[serde(transparent)]
pub struct Rate(f64);
arithmetic!(Rate);

impl Rate {
    /// From events per second (Hz).
    pub const fn from_hz(per_second: f64) -> Self {
        Self(per_second)
    }
    /// From events per minute (for a crankshaft: rpm).
    pub fn from_per_min(per_minute: f64) -> Self {
        Self(per_minute / 60.0)
    }
    /// In events per second (Hz).
    pub const fn hz(self) -> f64 {
        self.0
    }
    /// In events per minute (for a crankshaft: rpm).
    pub fn per_min(self) -> f64 {
        self.0 * 60.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_keep_their_value_through_their_units() {
        assert_eq!(Temperature::from_celsius(20.0).kelvin(), 293.15);
        assert_eq!(Time::from_us(1_500_000).s(), 1.5);
        assert_eq!(Rate::from_per_min(300.0).hz(), 5.0);
        assert!((Time::from_s(3.0) / Time::from_s(2.0) - 1.5).abs() < 1e-15);
    }
}
