//! What the user says of a test: the restrictor, the stage, what is filled.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::str::FromStr;

/// Discharge coefficient of a short drilled bore with a tapered approach, and its standard
/// uncertainty. Common practice, no source.
const COEFFICIENT: (f64, f64) = (0.85, 0.03);
/// Relative standard uncertainty of a restrictor's diameter that nobody measured. Common practice,
/// no source: a drill of 1 mm cuts within 0.02 mm.
const DIAMETER_STANDARD: f64 = 0.01;
/// Leaks over the restrictor that are told well, and the one that is told best. Below, the supply's
/// wobble is as large as what is lost; above, next to nothing is held. Own estimate, by the laboratory.
const SUITS: std::ops::RangeInclusive<f64> = 0.5..=6.0;
const BEST: f64 = 1.5;
/// Usual restrictors, mm. Common practice, no source.
const USUAL_MM: (f64, f64) = (0.5, 1.5);
/// Diameters that a restrictor may have, mm.
const DIAMETERS_MM: std::ops::RangeInclusive<f64> = 0.1..=5.0;

/// The small bore that the air passes on its way into the cylinder.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Restrictor {
    /// Its diameter in mm.
    pub diameter_mm: f64,
    /// Discharge coefficient: the share of its area that counts.
    #[serde(default = "coefficient")]
    pub coefficient: f64,
}

const fn coefficient() -> f64 {
    COEFFICIENT.0
}

/// No size of a restrictor.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{text}\" is no size of a restrictor; write its diameter, as \"1.0 mm\" or \"0.040 in\", between 0.1 and 5 mm"
)]
pub struct ParseRestrictorError {
    text: String,
}

/// One of 1 mm, the usual one.
impl Default for Restrictor {
    fn default() -> Self {
        Self {
            diameter_mm: 1.0,
            coefficient: COEFFICIENT.0,
        }
    }
}

impl FromStr for Restrictor {
    type Err = ParseRestrictorError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wrong = || ParseRestrictorError {
            text: text.to_owned(),
        };
        let trimmed = text.trim();
        let at = trimmed
            .find(|c: char| c.is_ascii_alphabetic())
            .ok_or_else(wrong)?;
        let (number, unit) = trimmed.split_at(at);
        let mm = match unit {
            "mm" => 1.0,
            "in" => 25.4,
            _ => return Err(wrong()),
        };
        let number: f64 = number.trim().parse().map_err(|_| wrong())?;
        let restrictor = Self {
            diameter_mm: number * mm,
            coefficient: COEFFICIENT.0,
        };
        restrictor
            .is_sound()
            .then_some(restrictor)
            .ok_or_else(wrong)
    }
}

impl Restrictor {
    /// Whether a restrictor can be so.
    pub fn is_sound(&self) -> bool {
        DIAMETERS_MM.contains(&self.diameter_mm) && (0.3..=1.0).contains(&self.coefficient)
    }

    /// Effective area (discharge coefficient times area) in mm².
    pub fn effective_mm2(&self) -> f64 {
        self.coefficient * core::f64::consts::FRAC_PI_4 * self.diameter_mm * self.diameter_mm
    }

    /// Whether a leak of this size is lost beside it: the supply's wobble is as large as what it takes.
    pub(super) fn hides(&self, leak_mm2: f64) -> bool {
        leak_mm2 < SUITS.start() * self.effective_mm2()
    }

    /// The diameter in mm of a restrictor that tells a leak of this size better; none where this one does well.
    pub fn better_mm(&self, leak_mm2: f64) -> Option<f64> {
        let ratio = leak_mm2 / self.effective_mm2();
        if SUITS.contains(&ratio) {
            return None;
        }
        let best = libm::sqrt(leak_mm2 / (BEST * self.coefficient * core::f64::consts::FRAC_PI_4));
        let (least, most) = USUAL_MM;
        let step = libm::round(4.0 * best.clamp(least, most)) / 4.0;
        ((step - self.diameter_mm).abs() > 0.1).then_some(step)
    }

    /// Relative standard uncertainty of [`Self::effective_mm2`]: twice that of the diameter, and
    /// that of the coefficient.
    pub fn relative_standard(&self) -> f64 {
        libm::hypot(2.0 * DIAMETER_STANDARD, COEFFICIENT.1 / COEFFICIENT.0)
    }
}

/// What is done with the air from now on.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Stage {
    /// Full pressure, the cylinder's side shut: the sensor reads the supply.
    Supply,
    /// Connected, the piston at the top of its compression stroke.
    Top,
    /// Connected, the piston a little before the top.
    Before,
    /// Connected, the piston a little after the top.
    After,
    /// The air is shut off: in a decay test what is filled is watched from here, and once more says
    /// that it was watched long enough. In a leak-down test nothing is read until the next stage.
    Shut,
}

impl Stage {
    /// Whether the air goes into the cylinder.
    pub const fn is_connected(self) -> bool {
        matches!(self, Self::Top | Self::Before | Self::After)
    }
}

/// What a decay test is made on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Filled {
    /// The tester alone, its end plugged.
    Tester,
    /// A cylinder, its piston at the top of the compression stroke.
    Cylinder,
}
