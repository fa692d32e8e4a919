//! Crank-slider volumes and dynamic ratios.

use super::common::{near, reference};
use needlerest::simulate::Slider;

/// V/Vc = 1 + ½(rc−1)[R + 1 − cos θ − √(R² − sin² θ)] (Heywood, Internal Combustion Engine
/// Fundamentals, eq. 2.6, from memory), rc = 10: `fixtures/engine/tables.py`.
#[test]
fn volumes_over_the_stroke() {
    let table: [(f64, [f64; 7]); 3] = [
        (3.0, [1.0, 1.7917, 3.8247, 6.2721, 8.3247, 9.5859, 10.0]),
        (3.5, [1.0, 1.7644, 3.7398, 6.1565, 8.2398, 9.5587, 10.0]),
        (4.0, [1.0, 1.7441, 3.6769, 6.0716, 8.1769, 9.5383, 10.0]),
    ];
    for (ratio, volumes) in table {
        let slider = Slider::new(0.08, 0.08, ratio * 0.04, 0.0);
        let clearance = slider.swept() / 9.0;
        for (i, wanted) in volumes.into_iter().enumerate() {
            let (sin, cos) = libm::sincos((30.0 * i as f64).to_radians());
            let volume = 1.0 + slider.area * slider.travel(sin, cos).0 / clearance;
            assert!(
                (volume - wanted).abs() < 6e-5,
                "R {ratio}: {volume} {wanted}"
            );
        }
    }
}

/// V(IVC)/Vc at R = 3.5, from the same formula: `fixtures/engine/tables.py`.
#[test]
fn effective_ratio_by_intake_closing() {
    let table: [(f64, [f64; 7]); 4] = [
        (8.0, [8.0, 7.657, 7.390, 7.047, 6.631, 6.147, 5.603]),
        (9.0, [9.0, 8.608, 8.302, 7.911, 7.435, 6.882, 6.260]),
        (10.0, [10.0, 9.559, 9.215, 8.774, 8.240, 7.617, 6.918]),
        (11.0, [11.0, 10.510, 10.128, 9.638, 9.044, 8.353, 7.575]),
    ];
    let slider = Slider::new(0.08, 0.08, 3.5 * 0.04, 0.0);
    for (ratio, row) in table {
        let clearance = slider.swept() / (ratio - 1.0);
        for (wanted, after) in row
            .into_iter()
            .zip([0.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0_f64])
        {
            let (sin, cos) = libm::sincos((180.0 + after).to_radians());
            let found = 1.0 + slider.area * slider.travel(sin, cos).0 / clearance;
            assert!((found - wanted).abs() < 6e-4, "{ratio} {after}: {found}");
        }
    }
}

/// Top, bottom and quarter turn in closed form: 0, 2a, a + l − √(l² − a²).
#[test]
fn closed_forms_at_top_bottom_and_quarter() {
    let engine = reference();
    let (a, l) = (engine.stroke_mm / 2e3, engine.rod_mm / 1e3);
    let slider = Slider::new(engine.bore_mm / 1e3, 2.0 * a, l, 0.0);
    near(slider.swept(), 500e-6, 1e-12, "swept volume");
    assert!(slider.travel(0.0, 1.0).0.abs() < 1e-15);
    near(slider.travel(0.0, -1.0).0, 2.0 * a, 1e-12, "bottom");
    let quarter = a + l - (l * l - a * a).sqrt();
    near(slider.travel(1.0, 0.0).0, quarter, 1e-12, "quarter");
}

/// With an offset pin the stroke is √((l+a)² − e²) − √((l−a)² − e²), and the slope is the
/// derivative of the travel.
#[test]
fn an_offset_pin_lengthens_the_stroke() {
    let (a, l, e): (f64, f64, f64) = (0.04, 0.14, 0.006);
    let slider = Slider::new(0.08, 2.0 * a, l, e);
    let stroke = ((l + a) * (l + a) - e * e).sqrt() - ((l - a) * (l - a) - e * e).sqrt();
    near(slider.swept() / slider.area, stroke, 1e-12, "stroke");
    assert!(stroke > 2.0 * a);
    for degrees in [10.0, 75.0, 140.0, 220.0, 310.0_f64] {
        let at = |angle: f64| slider.travel(libm::sin(angle), libm::cos(angle));
        let angle = degrees.to_radians();
        let slope = (at(angle + 1e-6).0 - at(angle - 1e-6).0) / 2e-6;
        assert!((slope - at(angle).1).abs() < 1e-9, "{degrees}");
    }
}
