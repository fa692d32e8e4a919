//! Pressure: conversion, parsing and display.

use super::quantity::arithmetic;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt;
use std::str::FromStr;

/// A pressure in pascal. Gauge unless the name of the variable or field says `absolute`.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize, JsonSchema,
)]
#[serde(transparent)]
pub struct Pressure(f64);
arithmetic!(Pressure);

impl Pressure {
    /// Zero pascal.
    pub const ZERO: Self = Self(0.0);
    /// The standard atmosphere, 101 325 Pa (NIST SP 811, appendix B.8).
    pub const ATMOSPHERE: Self = Self(101_325.0);

    /// From pascal.
    pub const fn from_pa(pascal: f64) -> Self {
        Self(pascal)
    }
    /// From kilopascal.
    pub fn from_kpa(kilopascal: f64) -> Self {
        Self(kilopascal * 1e3)
    }
    /// From a value in the given unit.
    pub fn new(value: f64, unit: PressureUnit) -> Self {
        Self(value * unit.pascals())
    }
    /// In pascal.
    pub const fn pa(self) -> f64 {
        self.0
    }
    /// In kilopascal.
    pub fn kpa(self) -> f64 {
        self.0 / 1e3
    }
    /// In the given unit.
    pub fn to(self, unit: PressureUnit) -> f64 {
        self.0 / unit.pascals()
    }
    /// With the unit's usual number of decimals and its symbol: `151.2 psi`, `10.43 bar`.
    pub fn show(self, unit: PressureUnit) -> String {
        format!("{} {unit}", self.digits(unit))
    }
    /// As [`Self::show`], without the symbol.
    pub fn digits(self, unit: PressureUnit) -> String {
        let decimals = unit.decimals();
        let shown = format!("{:.decimals$}", self.to(unit));
        // A tiny negative value must not be shown as "-0.0".
        match shown.strip_prefix('-') {
            Some(rest) if rest.bytes().all(|b| b == b'0' || b == b'.') => rest.to_owned(),
            _ => shown,
        }
    }
}

/// A unit of pressure, by its factor to pascal (NIST SP 811, appendix B.8; `psi` from its exact
/// definition 0.453 592 37 kg × 9.806 65 m/s² ÷ (0.0254 m)²).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
pub enum PressureUnit {
    /// Pascal.
    #[serde(rename = "Pa")]
    Pa,
    /// Hectopascal, the same as millibar.
    #[serde(rename = "hPa", alias = "mbar")]
    HPa,
    /// Kilopascal.
    #[serde(rename = "kPa")]
    KPa,
    /// Megapascal.
    #[serde(rename = "MPa")]
    MPa,
    /// Bar, 100 kPa.
    #[serde(rename = "bar")]
    Bar,
    /// Pound-force per square inch.
    #[default]
    #[serde(rename = "psi")]
    Psi,
    /// Kilogram-force per square centimetre (technical atmosphere).
    #[serde(rename = "kgf/cm2", alias = "kgf/cm²", alias = "at")]
    KgfPerCm2,
    /// Standard atmosphere.
    #[serde(rename = "atm")]
    Atm,
    /// Conventional millimetre of mercury.
    #[serde(rename = "mmHg")]
    MmHg,
    /// Conventional inch of mercury.
    #[serde(rename = "inHg")]
    InHg,
}

impl PressureUnit {
    /// Every unit, in the order in which help texts list them.
    pub const ALL: [Self; 10] = [
        Self::Psi,
        Self::Bar,
        Self::KPa,
        Self::KgfPerCm2,
        Self::Pa,
        Self::HPa,
        Self::MPa,
        Self::Atm,
        Self::MmHg,
        Self::InHg,
    ];

    /// How many pascal one of this unit is.
    pub const fn pascals(self) -> f64 {
        match self {
            Self::Pa => 1.0,
            Self::HPa => 1e2,
            Self::KPa => 1e3,
            Self::MPa => 1e6,
            Self::Bar => 1e5,
            Self::Psi => 0.453_592_37 * 9.806_65 / (0.0254 * 0.0254),
            Self::KgfPerCm2 => 98_066.5,
            Self::Atm => 101_325.0,
            Self::MmHg => 133.322_4,
            Self::InHg => 3_386.389,
        }
    }
    /// The symbol as it is shown.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Pa => "Pa",
            Self::HPa => "hPa",
            Self::KPa => "kPa",
            Self::MPa => "MPa",
            Self::Bar => "bar",
            Self::Psi => "psi",
            Self::KgfPerCm2 => "kgf/cm²",
            Self::Atm => "atm",
            Self::MmHg => "mmHg",
            Self::InHg => "inHg",
        }
    }
    /// Decimals that show about a thousandth of a usual reading.
    const fn decimals(self) -> usize {
        match self {
            Self::Pa | Self::MmHg => 0,
            Self::HPa | Self::KPa | Self::Psi | Self::InHg => 1,
            Self::Bar | Self::KgfPerCm2 | Self::Atm => 2,
            Self::MPa => 3,
        }
    }
}

impl fmt::Display for PressureUnit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

/// A text that is no unit of pressure, or no pressure at all.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is not {1}")]
pub struct ParsePressureError(String, &'static str);

impl FromStr for PressureUnit {
    type Err = ParsePressureError;

    /// Accepts the symbol in any case, `mbar`, `at`, `kgf/cm2` and `kg/cm2`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let wanted = text.trim();
        let by_symbol = Self::ALL
            .into_iter()
            .find(|unit| unit.symbol().eq_ignore_ascii_case(wanted));
        let by_other_name = || match wanted.to_ascii_lowercase().as_str() {
            "mbar" => Some(Self::HPa),
            "at" | "kgf/cm2" | "kg/cm2" | "kg/cm²" => Some(Self::KgfPerCm2),
            _ => None,
        };
        by_symbol.or_else(by_other_name).ok_or_else(|| {
            ParsePressureError(
                wanted.to_owned(),
                "a unit of pressure; known are psi, bar, kPa, kgf/cm2, Pa, hPa, mbar, MPa, atm, mmHg and inHg",
            )
        })
    }
}

impl FromStr for Pressure {
    type Err = ParsePressureError;

    /// Accepts a finite number and a unit, with or without a space: `150 psi`, `10.3bar`.
    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let text = text.trim();
        let no_pressure = || {
            ParsePressureError(
                text.to_owned(),
                "a pressure; write it like \"150 psi\" or \"10.3 bar\"",
            )
        };
        let split = text
            .find(|c: char| c.is_alphabetic())
            .ok_or_else(no_pressure)?;
        let (number, unit) = text.split_at(split);
        let value: f64 = number.trim().parse().map_err(|_| no_pressure())?;
        if !value.is_finite() {
            return Err(no_pressure());
        }
        Ok(Self::new(value, unit.parse()?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Factors: NIST SP 811, appendix B.8 (psi printed there as 6.894 757 E+03).
    #[test]
    fn factors_agree_with_nist_sp_811() {
        let near = |unit: PressureUnit, printed: f64, half_digit: f64| {
            assert!(
                (unit.pascals() - printed).abs() <= half_digit,
                "{unit}: {}",
                unit.pascals()
            );
        };
        near(PressureUnit::Psi, 6_894.757, 0.000_5);
        near(PressureUnit::Bar, 1e5, 0.0);
        near(PressureUnit::Atm, 101_325.0, 0.0);
        near(PressureUnit::KgfPerCm2, 98_066.5, 0.0);
        near(PressureUnit::InHg, 3_386.389, 0.000_5);
        near(PressureUnit::MmHg, 133.322_4, 0.000_05);
    }

    /// 1 psi = 6894.757 293 168 Pa from the exact pound, inch and standard gravity (NIST SP 811,
    /// appendix B).
    #[test]
    fn table_of_common_readings() {
        let table = [
            (85.0, 586.054, 5.860_54, 5.976_09),
            (100.0, 689.476, 6.894_76, 7.030_70),
            (125.0, 861.845, 8.618_45, 8.788_37),
            (150.0, 1034.214, 10.342_14, 10.546_04),
            (175.0, 1206.583, 12.065_83, 12.303_72),
        ];
        for (psi, kpa, bar, at) in table {
            let p = Pressure::new(psi, PressureUnit::Psi);
            assert!((p.kpa() - kpa).abs() < 5e-4);
            assert!((p.to(PressureUnit::Bar) - bar).abs() < 5e-6);
            assert!((p.to(PressureUnit::KgfPerCm2) - at).abs() < 5e-6);
        }
    }

    /// Pressures that manuals print twice, in psi and in kPa, with the rounding that each allows itself:
    /// TM 5-2420-230-24-2, page 14-22, and TM 5-3895-359-14&P, Tables 1 and 2.
    #[test]
    fn figures_that_manuals_print_twice() {
        let printed = [
            (350.0, 2413.0, 0.5),
            (300.0, 2068.0, 0.5),
            (100.0, 690.0, 0.6),
            (515.0, 3551.0, 0.5),
            (25.0, 172.0, 0.5),
            // These were multiplied with a rounded factor.
            (445.0, 3066.0, 3.0),
            (440.0, 3032.0, 3.0),
        ];
        for (psi, kpa, rounding) in printed {
            let ours = Pressure::new(psi, PressureUnit::Psi).kpa();
            assert!((ours - kpa).abs() < rounding, "{psi} psi: {ours}");
        }
    }

    #[test]
    fn parses_what_people_write() {
        assert_eq!(
            "150 psi".parse::<Pressure>().unwrap(),
            Pressure::new(150.0, PressureUnit::Psi)
        );
        assert_eq!(
            "10.5kgf/cm²".parse::<Pressure>().unwrap(),
            Pressure::from_pa(10.5 * 98_066.5)
        );
        assert!("150".parse::<Pressure>().is_err());
        assert!("lots psi".parse::<Pressure>().is_err());
        assert!("1e999 psi".parse::<Pressure>().is_err());
        assert_eq!(
            "12 furlong"
                .parse::<Pressure>()
                .unwrap_err()
                .to_string()
                .split(';')
                .next()
                .unwrap(),
            "\"furlong\" is not a unit of pressure"
        );
    }

    #[test]
    fn never_shows_a_negative_zero() {
        assert_eq!(Pressure::from_pa(-10.0).show(PressureUnit::Psi), "0.0 psi");
        assert_eq!(
            Pressure::from_pa(-7000.0).show(PressureUnit::Psi),
            "-1.0 psi"
        );
    }
}
