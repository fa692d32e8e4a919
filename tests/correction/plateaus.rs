//! Where a pressure stands still, and where it does not.

use needlerest::correction::{Plateau, Plateaus};
use needlerest::units::{Pressure, Time};

/// Samples at `hz` of a pressure over time, in seconds; gives where the plateau was first seen, and
/// the last one.
fn seen(hz: f64, until: f64, pressure: impl Fn(f64) -> f64) -> (Option<f64>, Option<Plateau>) {
    let mut plateaus = Plateaus::new(Pressure::from_pa(100.0));
    let mut first = None;
    for n in 0..(until * hz) as u32 {
        let time = f64::from(n) / hz;
        plateaus.push(Time::from_s(time), Pressure::from_pa(pressure(time)));
        if plateaus.now().is_some() {
            first.get_or_insert(time);
        }
    }
    (first, plateaus.now())
}

/// Pumped up by steps until 5 s, then still.
fn pumped(time: f64) -> f64 {
    1e5 * (time.min(5.0) * 2.0).floor()
}

#[test]
fn it_is_seen_two_seconds_after_the_last_stroke_of_the_pump() {
    for hz in [4.0, 20.0, 500.0] {
        let (_, plateau) = seen(hz, 10.0, pumped);
        assert!((plateau.unwrap().mean.pa() - 1e6).abs() < 1e-6);
        let (first, _) = seen(hz, 10.0, |time| if time < 5.0 { 1e5 * time } else { 1e6 });
        let first = first.unwrap();
        assert!((7.0..7.6).contains(&first), "{hz} Hz: {first} s");
    }
}

#[test]
fn a_slow_sensor_has_plateaus_too() {
    let (first, plateau) = seen(1.0, 20.0, |time| if time < 5.0 { 1e5 * time } else { 1e6 });
    assert!((9.0..12.0).contains(&first.unwrap()), "{first:?}");
    assert_eq!(plateau.unwrap().mean, Pressure::from_pa(1e6));
}

#[test]
fn what_leaks_away_is_none() {
    // A hundredth a second.
    assert_eq!(
        seen(100.0, 10.0, |time| 8e5 * (1.0 - 0.01 * time)),
        (None, None)
    );
}

/// What it moves by is part of the uncertainty: a rectangle as wide as that.
#[test]
fn a_slow_leak_widens_it() {
    let (_, still) = seen(100.0, 10.0, |_| 8e5);
    let (_, leaks) = seen(100.0, 10.0, |time| 8e5 * (1.0 - 0.001 * time));
    let (still, leaks) = (still.unwrap(), leaks.unwrap());
    assert!((still.standard.pa() - 100.0 / 12.0_f64.sqrt()).abs() < 1e-6);
    assert!(leaks.standard.pa() > 350.0, "{leaks:?}");
}

#[test]
fn what_is_no_sample_is_passed_over_and_a_gap_begins_anew() {
    let mut plateaus = Plateaus::new(Pressure::ZERO);
    for n in 0..400 {
        let time = Time::from_s(f64::from(n) * 0.01);
        plateaus.push(time, Pressure::from_pa(f64::NAN));
        plateaus.push(Time::from_s(f64::NAN), Pressure::from_pa(5e5));
        plateaus.push(time, Pressure::from_pa(5e5));
    }
    assert_eq!(plateaus.now().unwrap().mean, Pressure::from_pa(5e5));
    plateaus.begin_anew();
    assert_eq!(plateaus.now(), None);
}
