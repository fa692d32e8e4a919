//! The stroke model against closed forms and against the same equations integrated by SciPy
//! (`fixtures/engine/tables.py`, its numbers in `tables.txt`), for the reference cylinder: 500 cm³,
//! 10:1, rod ratio 3.5, closing 60° after bottom dead centre, n = 1.3, 101.325 kPa, 293.15 K.

use crate::geometry::cylinder;
use needlerest::engine::Geometry;
use needlerest::engine::stroke::{Compression, leaks_mm2, peaks};
use needlerest::units::{Pressure, PressureUnit, Rate, Temperature};

fn at(rpm: f64) -> Compression {
    of(cylinder(10.0, 3.5, 60.0), rpm)
}

fn of(geometry: Geometry, rpm: f64) -> Compression {
    Compression {
        geometry,
        start_absolute: Pressure::ATMOSPHERE,
        ambient_absolute: Pressure::ATMOSPHERE,
        start: Temperature::from_kelvin(293.15),
        exponent: 1.3,
        crank: Rate::from_per_min(rpm),
    }
}

fn psi(pressure: Pressure) -> f64 {
    pressure.to(PressureUnit::Psi)
}

/// p₂ = p₁·rⁿ: 1571.83 kPa absolute, 213.28 psi gauge (`fixtures/engine/tables.py`).
#[test]
fn a_tight_cylinder_follows_the_closed_form() {
    assert!((at(250.0).peak(0.0).kpa() - 1470.50).abs() < 0.02);
    assert!((psi(at(250.0).peak(0.0)) - 213.28).abs() < 0.005);
}

/// Gauge psi at 101.325 kPa, (rⁿ − 1)·14.6959 (`fixtures/engine/tables.py`).
#[test]
fn gauge_pressure_by_ratio_and_exponent() {
    let exponents = [1.20, 1.25, 1.30, 1.35, 1.40];
    let table = [
        (6.0, [111.5, 123.3, 136.2, 150.4, 165.9]),
        (7.5, [150.2, 167.7, 187.0, 208.4, 232.1]),
        (8.0, [163.5, 183.0, 204.7, 228.7, 255.4]),
        (10.0, [218.2, 246.6, 278.5, 314.3, 354.4]),
    ];
    for (ratio, row) in table {
        for (exponent, expected) in exponents.into_iter().zip(row) {
            let got = Compression {
                exponent,
                ..of(cylinder(ratio, 3.5, 0.0), 250.0)
            };
            assert!(
                (psi(got.peak(0.0)) - expected).abs() < 0.06,
                "{ratio}, {exponent}"
            );
        }
    }
}

/// The worked example of Wikipedia's article "Compression ratio", on the dynamic ratio (read in a
/// copy without a date): 10:1 static, 7.5:1 dynamic, n = 1.3, 14.7 psi: 13.7 bar, which is 201.8 psi
/// absolute, 187.1 gauge.
#[test]
fn a_dynamic_ratio_of_seven_and_a_half() {
    let ambient = Pressure::new(14.7, PressureUnit::Psi);
    let cylinder = Compression {
        start_absolute: ambient,
        ambient_absolute: ambient,
        ..of(cylinder(7.5, 3.5, 0.0), 250.0)
    };
    assert!((psi(cylinder.peak(0.0)) - 187.1).abs() < 0.05);
}

/// Leak and crank speed, integrated by SciPy: `fixtures/engine/tables.py`.
#[test]
fn leak_by_cranking_speed() {
    let speeds = [100.0, 150.0, 200.0, 250.0, 300.0, 400.0];
    let table = [
        (0.5, [170.1, 183.1, 190.1, 194.5, 197.5, 201.3]),
        (1.0, [137.5, 158.2, 170.1, 177.7, 183.1, 190.1]),
        (2.0, [93.0, 120.1, 137.5, 149.5, 158.2, 170.1]),
        (3.0, [65.2, 93.0, 112.5, 126.7, 137.5, 152.7]),
        (5.0, [34.5, 58.3, 77.5, 93.0, 105.4, 124.2]),
    ];
    for (leak, row) in table {
        for (rpm, expected) in speeds.into_iter().zip(row) {
            let got = psi(at(rpm).peak(leak));
            assert!((got - expected).abs() < 0.1, "{leak} mm² at {rpm}: {got}");
        }
    }
}

/// The peak depends on leak over speed alone, grows with speed and falls with the leak.
#[test]
fn only_leak_over_speed_matters() {
    let same = [
        at(200.0).peak(1.0),
        at(400.0).peak(2.0),
        at(100.0).peak(0.5),
    ];
    for one in same {
        assert!((one.pa() - same[0].pa()).abs() < 1e-6 * one.pa());
    }
    for step in 1..20 {
        let (before, after) = (f64::from(step) * 20.0, f64::from(step + 1) * 20.0);
        assert!(at(after).peak(1.0) >= at(before).peak(1.0));
        let (less, more) = (f64::from(step) * 0.3, f64::from(step + 1) * 0.3);
        assert!(at(250.0).peak(more) <= at(250.0).peak(less));
    }
}

/// Without a leak the peak goes with the ambient pressure: 84.556 kPa gives 1311.7 kPa absolute
/// (`fixtures/engine/tables.py`).
#[test]
fn a_tight_peak_goes_with_ambient_pressure() {
    let ambient = Pressure::from_kpa(84.556);
    let high = Compression {
        start_absolute: ambient,
        ambient_absolute: ambient,
        ..at(250.0)
    };
    assert!(((high.peak(0.0) + ambient).kpa() - 1311.7).abs() < 0.05);
}

/// Closing 10° later: 0.896 of the gauge peak; 10° earlier: 1.091. A manifold at 60 kPa:
/// 829.4 kPa gauge (`fixtures/engine/tables.py`).
#[test]
fn timing_and_throttle() {
    let tight = at(250.0).peak(0.0);
    let peak = |closes| of(cylinder(10.0, 3.5, closes), 250.0).peak(0.0);
    assert!((peak(70.0) / tight - 0.896).abs() < 6e-4);
    assert!((peak(50.0) / tight - 1.091).abs() < 6e-4);
    let throttled = Compression {
        start_absolute: Pressure::from_kpa(60.0),
        ..at(250.0)
    };
    assert!((throttled.peak(0.0).kpa() - 829.4).abs() < 0.1);
}

/// A tester's volume at the plug hole, and oil in the chamber, with nothing wrong
/// (`fixtures/engine/tables.py`).
#[test]
fn dead_volume_and_oil() {
    let tight = at(250.0).peak(0.0);
    let dead = [(1.0, 0.979), (2.0, 0.958), (3.0, 0.938), (5.0, 0.900)];
    for (cm3, factor) in dead {
        let got = of(cylinder(10.0, 3.5, 60.0).with_dead_cm3(cm3), 250.0).peak(0.0) / tight;
        assert!((got - factor).abs() < 6e-4, "{cm3} cm³: {got}");
    }
    let oil = [(2.0, 1.046), (5.0, 1.122), (10.0, 1.275), (15.0, 1.472)];
    for (cm3, factor) in oil {
        let got = of(cylinder(10.0, 3.5, 60.0).with_oil_cm3(cm3), 250.0).peak(0.0) / tight;
        assert!((got - factor).abs() < 6e-4, "{cm3} cm³ of oil: {got}");
    }
}

/// The leak is found again from the peak that it makes.
#[test]
fn the_leak_behind_a_reading() {
    for leak in [0.05, 0.5, 1.0, 3.0, 5.0] {
        let found = at(220.0).leak_mm2(at(220.0).peak(leak)).unwrap();
        assert!((found - leak).abs() < 1e-3 * leak, "{leak}: {found}");
    }
    assert_eq!(at(220.0).leak_mm2(Pressure::from_kpa(5000.0)), Some(0.0));
    assert_eq!(at(220.0).leak_mm2(Pressure::ZERO), None);
}

/// Together or one by one: the same bits.
#[test]
fn many_strokes_abreast_are_as_each_alone() {
    let strokes: Vec<(Compression, f64)> = (0..11)
        .map(|n| {
            let cylinder = cylinder(7.0 + f64::from(n % 3), 3.5, 50.0).with_dead_cm3(1.0);
            (
                of(cylinder, 100.0 + 40.0 * f64::from(n)),
                0.4 * f64::from(n),
            )
        })
        .collect();
    let together = peaks(&strokes);
    for ((own, leak), peak) in strokes.iter().zip(&together) {
        assert_eq!(own.peak(*leak).pa().to_bits(), peak.pa().to_bits());
    }
    // One reading is above a tight cylinder's, one lower than any hole makes it.
    let mut readings: Vec<(Compression, Pressure)> = strokes
        .iter()
        .zip(together)
        .map(|((own, _), peak)| (*own, peak))
        .collect();
    readings[3].1 = Pressure::from_kpa(5000.0);
    readings[7].1 = Pressure::ZERO;
    let bits = |leak: Option<f64>| leak.map(f64::to_bits);
    let alone = readings.iter().map(|(own, peak)| bits(own.leak_mm2(*peak)));
    assert!(alone.eq(leaks_mm2(&readings).into_iter().map(bits)));
    assert_eq!(
        (leaks_mm2(&readings)[3], leaks_mm2(&readings)[7]),
        (Some(0.0), None)
    );
}
