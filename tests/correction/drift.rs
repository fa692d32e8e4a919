//! A check beside the one before it.

use crate::check;
use needlerest::correction::{Checked, Day};
use needlerest::units::Pressure;

fn checked(last: &[(f64, f64)], before: &[(f64, f64)]) -> Checked {
    Checked {
        last: check(last),
        before: Some(check(before)),
    }
}

const USUAL: [(f64, f64); 3] = [(0.0, 0.01), (4.0, 4.05), (8.0, 8.09)];

/// The checks leave about 0.2 bar open at 8 bar (a gauge of ±0.1 bar, twice).
#[test]
fn what_the_checks_leave_open_is_no_drift() {
    let same = checked(&USUAL, &USUAL).drift().unwrap().unwrap();
    assert!(same.by.abs().pa() < 1e-6 && !same.is_clear());
    let a_little = [(0.0, 0.01), (4.0, 4.08), (8.0, 8.15)];
    assert!(
        !checked(&a_little, &USUAL)
            .drift()
            .unwrap()
            .unwrap()
            .is_clear()
    );
}

#[test]
fn a_span_that_moved_is_told() {
    let moved = [(0.0, 0.01), (4.0, 4.30), (8.0, 8.59)];
    let drift = checked(&moved, &USUAL).drift().unwrap().unwrap();
    assert!(drift.is_clear());
    assert_eq!(drift.at, Pressure::from_pa(8e5));
    assert!((drift.by.pa() - 5e4).abs() < 2e3, "{drift:?}");
    // The other way round it has fallen.
    let drift = checked(&USUAL, &moved).drift().unwrap().unwrap();
    assert!(drift.is_clear() && drift.by < Pressure::ZERO);
}

#[test]
fn a_zero_that_moved_is_told() {
    let moved = USUAL.map(|(gauge, told)| (gauge, told + 0.1));
    let drift = checked(&moved, &USUAL).drift().unwrap().unwrap();
    assert!(drift.is_clear());
    assert_eq!(drift.at, Pressure::ZERO);
    assert!((drift.by.pa() - 1e4).abs() < 1e3, "{drift:?}");
}

#[test]
fn a_year_and_a_day_is_old() {
    let checked = Checked::anew(check(&USUAL), None);
    assert_eq!(checked.drift().unwrap(), None);
    let old = |day: &str| checked.is_old(day.parse().unwrap()).unwrap();
    assert!(!old("2026-11-28") && !old("2027-11-28"));
    assert!(old("2027-11-29") && old("2030-01-01"));
    // Before it was made it is not old.
    assert!(!old("2020-01-01"));
    let mut leap = checked.clone();
    leap.last.date = "2028-02-29".to_owned();
    assert!(!leap.is_old("2029-02-28".parse().unwrap()).unwrap());
    assert!(leap.is_old("2029-03-01".parse().unwrap()).unwrap());
}

#[test]
fn a_new_check_puts_the_last_one_behind_it() {
    let mut first = check(&USUAL);
    first.date = "2026-01-01".to_owned();
    let second = Checked::anew(check(&USUAL), Some(Checked::anew(first.clone(), None)));
    assert_eq!(second.before, Some(first));
    let third = Checked::anew(check(&USUAL), Some(second.clone()));
    assert_eq!(third.before, Some(second.last));
}

#[test]
fn what_is_wrong_with_the_check_before_is_told_as_its() {
    let mut checked = checked(&USUAL, &USUAL);
    checked.before.as_mut().unwrap().points.clear();
    let said = checked.correction().unwrap_err().to_string();
    assert!(said.starts_with("the check before, point: "), "{said}");
}

/// The Gregorian calendar: 1900 was no leap year, 2000 was.
#[test]
fn days_are_days_of_the_calendar() {
    let day = |text: &str| text.parse::<Day>();
    for good in [
        "2026-11-28",
        "2024-02-29",
        "2000-02-29",
        "2026-12-31",
        "2026-04-30",
    ] {
        assert!(day(good).is_ok(), "{good}");
    }
    for bad in [
        "",
        "2026",
        "2026-13-01",
        "2026-00-10",
        "2026-02-29",
        "1900-02-29",
        "2026-04-31",
        "2026-11-0",
        "2026-11-00",
        "26-11-28",
        "2026-11-28Z",
        "+026-11-28",
        "２０２６-11-28",
    ] {
        assert!(day(bad).is_err(), "{bad}");
    }
    assert!(day("2026-11-28").unwrap() < day("2026-12-01").unwrap());
    assert!(day("2025-12-31").unwrap() < day("2026-01-01").unwrap());
}
