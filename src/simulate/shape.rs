//! What a description says of an engine's shape.

use super::geometry::Slider;
use super::spec::{Cylinder, Engine, RunSpec};
use crate::engine::Cycle;
use std::f64::consts::TAU;

/// Crank angle of one working cycle, in rad.
pub(super) fn cycle_angle(cycle: Cycle) -> f64 {
    TAU * cycle.turns_per_stroke()
}

/// The crank-slider of an engine.
pub(super) fn slider(engine: &Engine) -> Slider {
    Slider::new(
        engine.bore_mm * 1e-3,
        engine.stroke_mm * 1e-3,
        engine.rod_mm * 1e-3,
        engine.pin_offset_mm * 1e-3,
    )
}

/// Clearance of a cylinder without adapter and oil, in m³.
pub(super) fn clearance(engine: &Engine, cylinder: &Cylinder) -> f64 {
    slider(engine).swept() / (engine.compression_ratio - 1.0) - cylinder.deposits_cm3 * 1e-6
}

/// Indices of the other cylinders that matter: those that share a gasket leak with the one
/// under test, or all of them if their plugs are in.
pub(super) fn companions(spec: &RunSpec, tested: usize) -> Vec<usize> {
    (0..spec.engine.cylinders.len())
        .filter(|&i| i != tested && (spec.plugs_in || gasket(spec, i) > 0.0))
        .collect()
}

/// Gasket leak between the cylinder under test and another one, in mm².
pub(super) fn gasket(spec: &RunSpec, other: usize) -> f64 {
    let name = &spec.engine.cylinders[other].name;
    let both = |between: &[String; 2]| between.contains(name) && between.contains(&spec.cylinder);
    spec.engine
        .gaskets
        .iter()
        .filter(|gasket| both(&gasket.between))
        .map(|gasket| gasket.leak_mm2)
        .sum()
}
