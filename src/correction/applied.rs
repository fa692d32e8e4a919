//! The correction, as it is applied to what a sensor tells.

use crate::units::Pressure;

/// From what the sensor tells to what is so: `true = gain × told + offset`, with standard
/// uncertainties.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Correction {
    /// Factor on what the sensor tells.
    pub gain: f64,
    /// Added after the factor.
    pub offset: Pressure,
    /// Standard uncertainty of the gain.
    pub gain_standard: f64,
    /// Standard uncertainty at zero.
    pub offset_standard: Pressure,
    /// Standard uncertainty due to points that do not lie on a straight line; zero where there were
    /// too few to see it.
    pub bend_standard: Pressure,
    /// The highest pressure above zero that was checked.
    pub highest: Pressure,
    /// The sensor's error was seen to lie on a straight line, up to [`Self::highest`]: there were
    /// three points or more.
    pub straight: bool,
}

/// Up to this many times the highest pressure that was checked the straight line is believed; above
/// it the sensor's stated accuracy counts again. Our choice.
const REACH: f64 = 1.1;

impl Correction {
    /// What is so where the sensor tells this.
    pub fn of(&self, told: Pressure) -> Pressure {
        told * self.gain + self.offset
    }

    /// The level up to which the correction replaces the sensor's stated accuracy.
    pub fn reach(&self) -> Pressure {
        if self.straight {
            self.highest * REACH
        } else {
            Pressure::ZERO
        }
    }

    /// Standard uncertainty as a share of the level.
    pub fn share_standard(&self) -> f64 {
        self.gain_standard / self.gain
    }

    /// Standard uncertainty of a corrected pressure at this level above zero (GUM 5.1.2). Above
    /// zero the offset takes no part: it is the same at rest.
    pub fn standard(&self, level: Pressure) -> Pressure {
        let grows = level.pa() * self.share_standard();
        Pressure::from_pa(libm::hypot(self.bend_standard.pa(), grows))
    }

    /// Expanded uncertainty (k = 2, about 95 %) at this level above zero.
    pub fn expanded(&self, level: Pressure) -> Pressure {
        self.standard(level) * 2.0
    }
}
