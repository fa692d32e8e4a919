//! Cadence from strokes at times that are known, by order statistics.

use super::*;

fn strokes(intervals: &[f64]) -> Vec<Made> {
    let mut at = 3.0;
    let mut times = vec![at];
    for interval in intervals {
        at += interval;
        times.push(at);
    }
    let made = |time| Made {
        time,
        level: 1e6,
        sampled: 1e6,
    };
    times.into_iter().map(made).collect()
}

fn of(intervals: &[f64], turned: Turned) -> Cadence {
    cadence(&strokes(intervals), turned).unwrap()
}

fn close(a: f64, b: f64) -> bool {
    (a / b - 1.0).abs() < 1e-9
}

#[test]
fn median_extremes_and_unevenness() {
    let cadence = of(&[0.5, 0.4, 0.75, 0.5, 0.45], Turned::ByStarter);
    assert!(close(cadence.median.hz(), 2.0), "{cadence:?}");
    assert!(close(cadence.fastest.hz(), 2.5) && close(cadence.slowest.hz(), 1.0 / 0.75));
    // From the median: 0, 0.1, 0.25, 0, 0.05.
    assert!(close(cadence.unevenness, 0.05 / 0.5), "{cadence:?}");
    assert_eq!(cadence.pauses, 0);
}

/// Three times the median, and a second at least, is a pause; both sides.
#[test]
fn what_is_much_longer_is_a_pause() {
    let pauses =
        |interval: f64, usual: f64| of(&[usual, usual, usual, interval], Turned::ByStarter).pauses;
    assert_eq!((pauses(1.49, 0.5), pauses(1.51, 0.5)), (0, 1));
    assert_eq!((pauses(0.99, 0.2), pauses(1.01, 0.2)), (0, 1));
    let cadence = of(&[0.5, 0.5, 4.0, 0.5, 9.0], Turned::ByHand);
    assert_eq!(cadence.pauses, 2);
    assert!(close(cadence.slowest.hz(), 2.0), "{cadence:?}");
    assert_eq!(
        (
            pause_after(None),
            pause_after(Some(0.2)),
            pause_after(Some(0.5))
        ),
        (2.0, 1.0, 1.5)
    );
}

/// In kicks whatever is longer than a kick is between two of them.
#[test]
fn in_kicks_the_strokes_of_one_kick_count() {
    let cadence = of(&[0.3, 0.3, 1.9, 0.25, 0.61, 1.9, 0.63], Turned::InKicks);
    assert!(
        close(cadence.slowest.hz(), 1.0 / 0.61) && cadence.pauses == 3,
        "{cadence:?}"
    );
}

#[test]
fn of_one_stroke_there_is_no_cadence() {
    assert_eq!(cadence(&strokes(&[]), Turned::ByStarter), None);
    assert_eq!(
        cadence(&strokes(&[0.0]), Turned::ByStarter),
        None,
        "two at one time"
    );
    assert_eq!(
        cadence(&strokes(&[2.0]), Turned::InKicks),
        None,
        "one stroke a kick"
    );
    assert!(close(of(&[0.0, 0.4], Turned::ByStarter).fastest.hz(), 2.5));
}
