//! Flags: each is raised by what it names.

use crate::synth::{analyse, following, holding, runs, sample, samples, settings};
use needlerest::signal::{Flag, Grade, Outcome, RunResult, Sample, Settings, Turned};
use needlerest::units::Pressure;

fn run_of(settings: Settings, trace: &[Sample]) -> RunResult {
    let mut runs = runs(&analyse(settings, trace));
    assert!(!runs.is_empty());
    runs.remove(0)
}

fn has(run: &RunResult, what: impl Fn(&Flag) -> bool) -> bool {
    run.flags.iter().any(what)
}

#[test]
fn a_clean_run_is_good() {
    let trace = samples(500.0, 9.0, 500.0, 31, |t| following(t, 0.48, |_| 1.0, 14));
    let run = run_of(settings(), &trace);
    assert_eq!(run.outcome, Outcome::Settled);
    assert_eq!(run.grade, Grade::Good, "{:?}", run.flags);
}

#[test]
fn clipping_is_told_and_nothing_is_read() {
    let mut small = settings();
    small.range_max = Some(Pressure::from_kpa(1200.0));
    let trace = samples(200.0, 9.0, 500.0, 32, |t| {
        following(t, 0.48, |_| 1.0, 14).min(1.2e6)
    });
    let run = run_of(small, &trace);
    assert!(has(
        &run,
        |f| matches!(f, Flag::Clipped { samples } if *samples > 10)
    ));
    assert_eq!(run.outcome, Outcome::NoReading);
    assert_eq!(run.grade, Grade::Poor);
}

#[test]
fn a_zero_far_off_is_told_and_taken_off() {
    let trace = samples(200.0, 9.0, 500.0, 33, |t| {
        20_000.0 + following(t, 0.48, |_| 1.0, 14)
    });
    let run = run_of(settings(), &trace);
    assert!(has(&run, |f| matches!(f, Flag::ZeroOffset { .. })));
    let value = run.reading.unwrap().value.pa();
    assert!((value / crate::synth::peak() - 1.0).abs() < 0.005);
}

#[test]
fn a_recording_that_begins_in_a_stroke_was_not_zeroed() {
    let trace = samples(200.0, 9.0, 500.0, 34, |t| {
        following(t + 1.2, 0.48, |_| 1.0, 14)
    });
    let run = run_of(settings(), &trace);
    assert!(has(&run, |f| *f == Flag::NotZeroed), "{:?}", run.flags);
}

#[test]
fn a_leaking_tester_is_told_with_its_rate() {
    // 4 kPa/s from 1.4 MPa.
    let trace = samples(100.0, 16.0, 300.0, 35, |t| {
        let held = holding(t, 0.48, 1.4e6, 0.2, 10);
        if t > 15.0 {
            0.0
        } else {
            held - 4000.0 * (t - 1.5).max(0.0)
        }
    });
    let run = run_of(settings(), &trace);
    let droop = run.droop.unwrap();
    let off = (droop.per_second.pa() - 4000.0).abs();
    assert!(
        off < 3.0 * droop.per_second_standard.pa() + 100.0,
        "{droop:?}"
    );
    assert!(has(&run, |f| matches!(f, Flag::TesterLeaks { .. })));
}

#[test]
fn a_tight_tester_is_not_blamed() {
    let trace = samples(100.0, 16.0, 300.0, 36, |t| {
        if t > 15.0 {
            0.0
        } else {
            holding(t, 0.48, 1.4e6, 0.2, 10)
        }
    });
    let run = run_of(settings(), &trace);
    assert!(
        !has(&run, |f| matches!(f, Flag::TesterLeaks { .. })),
        "{:?}",
        run.flags
    );
}

#[test]
fn lost_packets_within_strokes_are_counted() {
    let mut trace = samples(200.0, 9.0, 500.0, 37, |t| following(t, 0.48, |_| 1.0, 14));
    // Strokes have their tops at 1.24 s + k · 0.48 s.
    for k in [2.0, 5.0] {
        let top = 1.24 + 0.48 * k;
        trace.retain(|s| !(top - 0.02..top + 0.03).contains(&s.time.s()));
        let next = trace.iter_mut().find(|s| s.time.s() > top).unwrap();
        next.gap_before = true;
    }
    let run = run_of(settings(), &trace);
    assert!(
        has(&run, |f| *f == Flag::LostInStroke { strokes: 2 }),
        "{:?}",
        run.flags
    );
    // The two cut peaks do not pull the reading down.
    let value = run.reading.unwrap().value.pa();
    assert!((value / crate::synth::peak() - 1.0).abs() < 0.01, "{value}");
}

#[test]
fn slow_and_uneven_cranking_is_told() {
    let slow = samples(200.0, 22.0, 500.0, 38, |t| following(t, 1.5, |_| 1.0, 12));
    let starter = Settings {
        turned: Some(Turned::ByStarter),
        ..settings()
    };
    let run = run_of(starter, &slow);
    assert!(
        has(&run, |f| matches!(f, Flag::SlowCadence { .. })),
        "{:?}",
        run.flags
    );
    let uneven = samples(200.0, 14.0, 500.0, 39, |t| {
        // Time runs faster and slower by turns.
        let warped = t + 0.16 * libm::sin(t * 4.1) + 0.11 * libm::sin(t * 7.3);
        if t < 0.9 {
            0.0
        } else {
            following(warped, 0.48, |_| 1.0, 20)
        }
    });
    let run = run_of(settings(), &uneven);
    assert!(
        has(&run, |f| matches!(f, Flag::UnevenCadence { .. })),
        "{:?}",
        run.cadence
    );
}

#[test]
fn low_from_the_first_stroke_on_may_be_the_throttle() {
    let trace = samples(200.0, 9.0, 300.0, 40, |t| following(t, 0.48, |_| 0.2, 14));
    let run = run_of(settings(), &trace);
    assert!(
        has(&run, |f| matches!(f, Flag::ThrottleMayBeShut { .. })),
        "{:?}",
        run.flags
    );
}

#[test]
fn a_large_hose_is_told() {
    let trace = samples(200.0, 20.0, 300.0, 41, |t| {
        if t > 19.0 {
            0.0
        } else {
            holding(t, 0.48, 1.4e6, 0.75, 30)
        }
    });
    let run = run_of(settings(), &trace);
    assert!(
        has(&run, |f| matches!(f, Flag::SlowBuildUp { .. })),
        "{:?}",
        run.flags
    );
}

#[test]
fn no_strokes_and_too_few_strokes() {
    let quiet = samples(100.0, 5.0, 300.0, 42, |_| 0.0);
    let run = run_of(settings(), &quiet);
    assert!(has(&run, |f| *f == Flag::NoStrokes));
    assert_eq!((run.outcome, run.grade), (Outcome::NoReading, Grade::Poor));
    let one = samples(200.0, 5.0, 300.0, 43, |t| following(t, 0.48, |_| 1.0, 1));
    let run = run_of(settings(), &one);
    assert!(
        has(&run, |f| *f == Flag::TooFewStrokes { strokes: 1 }),
        "{:?}",
        run.flags
    );
    let mut bad = vec![sample(0.0, f64::NAN)];
    bad.extend(samples(100.0, 5.0, 300.0, 44, |_| 0.0));
    let run = run_of(settings(), &bad);
    assert!(
        has(&run, |f| *f == Flag::BadSamples { samples: 1 }),
        "{:?}",
        run.flags
    );
}
