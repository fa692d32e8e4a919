//! The engine that tests of the simulator and of tests with air are made on.

use needlerest::engine::Cycle;
use needlerest::simulate::{Cylinder, Engine, Valves};

/// A four-stroke of `bore`, `stroke` and `rod` in mm, without any leak.
pub fn four_stroke(bore_mm: f64, stroke_mm: f64, rod_mm: f64, ratio: f64) -> Engine {
    Engine {
        cycle: Cycle::FourStroke,
        bore_mm,
        stroke_mm,
        rod_mm,
        pin_offset_mm: 0.0,
        compression_ratio: ratio,
        valves: Some(Valves {
            intake_opens_btdc: 10.0,
            intake_closes_abdc: 50.0,
            exhaust_opens_bbdc: 45.0,
            exhaust_closes_atdc: 12.0,
            intake_mm2: 560.0,
            exhaust_mm2: 480.0,
        }),
        ports: None,
        throttle_mm2: 480.0,
        manifold_cm3: 600.0,
        inertia_kg_m2: 0.25,
        friction_kpa: 70.0,
        cylinders: vec![Cylinder {
            name: "1".to_owned(),
            ..Cylinder::default()
        }],
        gaskets: Vec::new(),
    }
}
