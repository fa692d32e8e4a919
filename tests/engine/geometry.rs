//! Volumes of the crank and slider against its closed form (Heywood, Internal Combustion Engine
//! Fundamentals, eq. 2.6; from memory), evaluated by NumPy: `fixtures/engine/tables.py`.

use needlerest::engine::Geometry;

/// A cylinder of 500 cm³.
pub fn cylinder(ratio: f64, rod_ratio: f64, closes: f64) -> Geometry {
    Geometry {
        swept_m3: 500e-6,
        ratio,
        rod_ratio,
        closes_deg_abdc: closes,
        ports: false,
        closing_known: true,
        dead_m3: 0.0,
        oil_m3: 0.0,
    }
}

/// At 0°, 30°, … 180°: Heywood, eq. 2.6 (from memory), by NumPy in `fixtures/engine/tables.py`.
#[test]
fn volume_over_clearance_by_crank_angle() {
    let table = [
        (3.0, [1.0, 1.7917, 3.8247, 6.2721, 8.3247, 9.5859, 10.0]),
        (3.5, [1.0, 1.7644, 3.7398, 6.1565, 8.2398, 9.5587, 10.0]),
        (4.0, [1.0, 1.7441, 3.6769, 6.0716, 8.1769, 9.5383, 10.0]),
    ];
    for (rod_ratio, row) in table {
        let cylinder = cylinder(10.0, rod_ratio, 60.0);
        for (at, expected) in row.into_iter().enumerate() {
            let angle = (30.0 * at as f64).to_radians();
            let got = cylinder.volume_m3(angle) / cylinder.clearance_m3();
            assert!((got - expected).abs() < 6e-5, "R {rod_ratio}, {at}: {got}");
        }
    }
}

/// The same formula at the closing angle: `fixtures/engine/tables.py`.
#[test]
fn effective_ratio_by_closing_angle() {
    let angles = [0.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0];
    let table = [
        (8.0, [8.0, 7.657, 7.390, 7.047, 6.631, 6.147, 5.603]),
        (9.0, [9.0, 8.608, 8.302, 7.911, 7.435, 6.882, 6.260]),
        (10.0, [10.0, 9.559, 9.215, 8.774, 8.240, 7.617, 6.918]),
        (11.0, [11.0, 10.510, 10.128, 9.638, 9.044, 8.353, 7.575]),
    ];
    for (ratio, row) in table {
        for (closes, expected) in angles.into_iter().zip(row) {
            let got = cylinder(ratio, 3.5, closes).effective_ratio();
            assert!((got - expected).abs() < 6e-4, "{ratio} at {closes}: {got}");
        }
    }
}
