//! Tests of the correction room against a published example, known truth and bad values.

mod checks;
mod coverage;
mod drift;
mod line;
mod plateaus;

use needlerest::correction::{Check, Point};
use needlerest::units::Pressure;

/// A check against a gauge good to ±0.1 bar: gauge and sensor in bar, each sensor value known to
/// 20 Pa.
fn check(points: &[(f64, f64)]) -> Check {
    let point = |(gauge, told): &(f64, f64)| Point {
        gauge: Pressure::from_pa(gauge * 1e5),
        told: Pressure::from_pa(told * 1e5),
        standard: Pressure::from_pa(20.0),
    };
    Check {
        date: "2026-11-28".to_owned(),
        reference: "gauge of the tyre pump".to_owned(),
        accuracy: Pressure::from_pa(1e4),
        absolute: false,
        points: points.iter().map(point).collect(),
    }
}
