//! What passes and what does not, on both sides.

use super::*;
use crate::units::{Pressure, Time};

fn sample(t: f64, pa: f64) -> Sample {
    Sample {
        time: Time::from_s(t),
        pressure: Pressure::from_pa(pa),
        clipped: false,
        gap_before: false,
    }
}

fn screen(range_pa: Option<f64>) -> Screen {
    Screen::new(&Settings {
        range_max: range_pa.map(Pressure::from_pa),
        ..Settings::default()
    })
}

#[test]
fn pressures_that_cannot_be_are_refused_and_counted() {
    let mut of_range = screen(Some(2.5e6));
    for (pa, passes) in [
        (2.5e7, true),
        (2.51e7, false),
        (-2.5e7, true),
        (-2.51e7, false),
        (f64::NAN, false),
    ] {
        assert_eq!(of_range.passes(&sample(0.0, pa)), passes, "{pa}");
    }
    assert_eq!(of_range.refused, 3);
    // Where the range is not known, or is none.
    for range in [
        None,
        Some(f64::INFINITY),
        Some(0.0),
        Some(-1.0),
        Some(f64::NAN),
    ] {
        let mut any = screen(range);
        assert!(
            any.passes(&sample(0.0, 1e9)) && !any.passes(&sample(0.0, 1.01e9)),
            "{range:?}"
        );
    }
}

#[test]
fn time_may_stand_still_but_not_run_backwards() {
    let mut screen = screen(None);
    for (t, passes) in [
        (-4.0, true),
        (-4.0, true),
        (-4.01, false),
        (1.0, true),
        (0.5, false),
        (0.9, false),
    ] {
        assert_eq!(screen.passes(&sample(t, 0.0)), passes, "{t}");
    }
    assert!(!screen.passes(&sample(f64::NAN, 0.0)) && !screen.passes(&sample(f64::INFINITY, 0.0)));
    // What is refused for its pressure does not move the time on.
    assert!(!screen.passes(&sample(9.0, f64::NAN)) && screen.passes(&sample(1.0, 0.0)));
    assert_eq!(screen.refused, 6);
}
