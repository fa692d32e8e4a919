//! What a check makes of its points, and what it refuses.

use crate::check;
use needlerest::correction::{Check, Point};
use needlerest::units::Pressure;

/// Worked by hand: zero known to 20 Pa, one point of 8 bar where the sensor tells 8.1, the gauge
/// good to ±0.1 bar: gain 8/8.1; u = 0.1 bar/√3 ÷ 8.1 bar; no bend can be seen.
#[test]
fn one_point_beside_zero() {
    let correction = check(&[(0.0, 0.0), (8.0, 8.1)]).correction().unwrap();
    assert!((correction.gain - 8.0 / 8.1).abs() < 1e-9);
    assert!((correction.gain_standard - 0.1 / 3.0_f64.sqrt() / 8.1).abs() < 1e-6);
    assert_eq!(correction.bend_standard, Pressure::ZERO);
    assert!(!correction.straight && correction.reach() == Pressure::ZERO);
}

/// A point half a bar off the others' line makes the correction that much less certain.
#[test]
fn a_bent_sensor_is_less_certain() {
    let straight = check(&[(0.0, 0.0), (2.0, 2.0), (4.0, 4.0), (6.0, 6.0), (8.0, 8.0)]);
    let bent = check(&[(0.0, 0.0), (2.0, 2.0), (4.0, 4.5), (6.0, 6.0), (8.0, 8.0)]);
    let at = Pressure::from_pa(5e5);
    let (straight, bent) = (straight.correction().unwrap(), bent.correction().unwrap());
    assert!(straight.bend_standard.pa() < 1.0, "{straight:?}");
    assert!(bent.expanded(at).pa() > 3e4, "{bent:?}");
    assert!(straight.reach() == Pressure::from_pa(8e5) * 1.1);
}

/// An absolute sensor's zero is left as it is; its span is put right.
#[test]
fn an_absolute_sensor_keeps_its_zero() {
    let mut check = check(&[(0.0, 1.013), (5.0, 6.113), (10.0, 11.213)]);
    check.absolute = true;
    let correction = check.correction().unwrap();
    let of = |bar: f64| correction.of(Pressure::from_pa(bar * 1e5)).pa() / 1e5;
    assert!((of(1.013) - 1.013).abs() < 1e-9);
    assert!((of(11.213) - 11.013).abs() < 1e-6);
}

fn point(gauge: f64, told: f64, standard: f64) -> Point {
    Point {
        gauge: Pressure::from_pa(gauge),
        told: Pressure::from_pa(told),
        standard: Pressure::from_pa(standard),
    }
}

#[test]
fn what_makes_no_sense_is_refused_by_name() {
    let sound = check(&[(0.0, 0.01), (4.0, 4.1), (8.0, 8.2)]);
    assert!(sound.correction().is_ok());
    let with = |change: &dyn Fn(&mut Check)| {
        let mut check = sound.clone();
        change(&mut check);
        check.correction().unwrap_err().to_string()
    };
    let last = |point: Point| with(&|check| check.points[2] = point);
    let cases = [
        ("date: ", with(&|check| check.date = "yesterday".into())),
        ("date: ", with(&|check| check.date = "2026-02-30".into())),
        (
            "date: ",
            with(&|check| check.date = "2026-11-28T00:00".into()),
        ),
        ("reference: ", with(&|check| check.reference = " ".into())),
        (
            "reference: ",
            with(&|check| check.reference = "a\u{1b}[2J".into()),
        ),
        (
            "reference: ",
            with(&|check| check.reference = "x".repeat(121)),
        ),
        (
            "reference_accuracy_pa: ",
            with(&|check| check.accuracy = Pressure::ZERO),
        ),
        (
            "reference_accuracy_pa: ",
            with(&|check| check.accuracy = Pressure::from_pa(f64::NAN)),
        ),
        ("point: ", with(&|check| check.points.truncate(1))),
        (
            "point: ",
            with(&|check| check.points = vec![point(0.0, 0.0, 1.0); 7]),
        ),
        (
            "point 1, gauge_pa: ",
            with(&|check| check.points[0] = point(1e4, 1e3, 20.0)),
        ),
        ("point 3, gauge_pa: ", last(point(4e5, 8e5, 20.0))),
        ("point 3, gauge_pa: ", last(point(f64::INFINITY, 8e5, 20.0))),
        ("point 3, told_pa: ", last(point(8e5, 4.0e5, 20.0))),
        ("point 3, told_pa: ", last(point(8e5, f64::NAN, 20.0))),
        ("point 3, told_standard_pa: ", last(point(8e5, 8e5, -1.0))),
        (
            "point 3, told_standard_pa: ",
            last(point(8e5, 8e5, f64::NAN)),
        ),
        // A gauge that is as coarse as the pressure.
        (
            "point: ",
            with(&|check| check.accuracy = Pressure::from_pa(5e5)),
        ),
        // A point read wrongly.
        ("point: ", last(point(8e5, 4.2e5, 20.0))),
        // Gauge in bar, sensor in psi.
        (
            "point: ",
            with(&|check| {
                check.points = vec![point(0.0, 0.0, 20.0), point(8e5, 1.16e7, 20.0)];
            }),
        ),
        // A zero further off than anything that was measured.
        (
            "point: ",
            with(&|check| {
                check.points = vec![point(0.0, 9e5, 20.0), point(8e5, 1.7e6, 20.0)];
            }),
        ),
    ];
    for (place, said) in cases {
        assert!(said.starts_with(place), "{place}: {said}");
    }
}

/// Whatever a settings file or a header holds: no panic, and no number that is none.
#[test]
fn hostile_numbers_never_come_through() {
    let numbers = [
        0.0,
        -0.0,
        1.0,
        -1.0,
        1e-300,
        1e8,
        -1e8,
        1e300,
        f64::NAN,
        f64::INFINITY,
    ];
    for a in numbers {
        for b in numbers {
            for c in numbers {
                let mut check = check(&[(0.0, 0.0), (4.0, 4.1), (8.0, 8.2)]);
                check.accuracy = Pressure::from_pa(c.abs());
                check.points[1] = point(a, b, c);
                check.points[0].told = Pressure::from_pa(b / 2.0);
                if let Ok(correction) = check.correction() {
                    let at = Pressure::from_pa(5e5);
                    assert!(correction.of(at).is_finite() && correction.expanded(at).is_finite());
                    assert!((0.5..=2.0).contains(&correction.gain));
                }
            }
        }
    }
}
