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

/// Behind a check valve, the starter let go twice: the leak is the same in both stretches, and the least
/// squares over them say it. Over many noises what is told scatters by no more than the stated standard
/// uncertainty (JCGM 100, H.3: standard deviation of a fitted slope), about the truth.
#[test]
fn the_fall_is_known_as_well_as_it_says() {
    let leak = |t: f64| {
        let held = holding(t, 0.48, 1.4e6, 0.2, 10);
        // Cranked again at 11 s, faster: it rises by more than had leaked away.
        let again = if t > 11.0 {
            250_000.0 * ((t - 11.0) / 0.1).min(1.0)
        } else {
            0.0
        };
        if t > 19.0 {
            0.0
        } else {
            held + again - 4000.0 * (t - 1.5).max(0.0)
        }
    };
    let told: Vec<(f64, f64, f64)> = (0..30)
        .map(|seed| {
            let trace = samples(50.0, 20.0, 2000.0, 500 + seed, leak);
            let droop = run_of(settings(), &trace).droop.unwrap();
            (
                droop.per_second.pa(),
                droop.per_second_standard.pa(),
                droop.watched.s(),
            )
        })
        .collect();
    let n = told.len() as f64;
    let mean = told.iter().map(|d| d.0).sum::<f64>() / n;
    let scatter = (told
        .iter()
        .map(|d| (d.0 - mean) * (d.0 - mean))
        .sum::<f64>()
        / (n - 1.0))
        .sqrt();
    let stated = told.iter().map(|d| d.1).sum::<f64>() / n;
    assert!(
        (mean - 4000.0).abs() < 4.0 * scatter / n.sqrt(),
        "{mean} {scatter}"
    );
    // The standard deviation of thirty is known to 13 %: three times that to either side.
    let times = stated / scatter;
    assert!((0.61..1.39).contains(&times), "{stated} {scatter}");
    // From 1.2 s after the last step of each stretch (2.7 s and 11.1 s) to its end (11 s and 19 s), less
    // what is never looked at before a rise.
    for (_, _, watched) in &told {
        assert!((10.5..13.8).contains(watched), "{watched}");
    }
}

/// An absolute sensor at rest reads the air, which is no offset; half an atmosphere more is one, and is
/// told with its sign.
#[test]
fn the_offset_is_from_the_air_for_an_absolute_sensor() {
    let absolute = Settings {
        absolute: true,
        ..settings()
    };
    let offset = |more: f64| {
        let trace = samples(200.0, 9.0, 500.0, 45, |t| {
            crate::synth::AMBIENT + more + following(t, 0.48, |_| 1.0, 14)
        });
        let run = run_of(absolute, &trace);
        run.flags.iter().find_map(|flag| match flag {
            Flag::ZeroOffset { offset } => Some(offset.pa()),
            _ => None,
        })
    };
    assert_eq!(offset(0.0), None);
    assert_eq!(offset(10_000.0), None, "a barometer's way");
    assert!((offset(50_000.0).unwrap() - 50_000.0).abs() < 500.0);
    assert!((offset(-50_000.0).unwrap() + 50_000.0).abs() < 500.0);
}

/// A slow sensor misses tops, and the user is told by how much; a fast one does not. By the formula of
/// the stroke the highest of samples a step apart lies below the top by what is told, or less.
#[test]
fn a_sensor_too_slow_for_the_tops_is_told() {
    let cut = |rate: f64| {
        let trace = samples(rate, 14.0, 500.0, 46, |t| following(t, 0.483, |_| 1.0, 25));
        let run = run_of(settings(), &trace);
        run.flags.iter().find_map(|flag| match flag {
            Flag::Undersampled { cut_off_share } => Some(*cut_off_share),
            _ => None,
        })
    };
    assert_eq!(cut(500.0), None);
    assert_eq!(cut(200.0), None);
    let told = cut(30.0).expect("told");
    // Half a step from the top, in turns of the crank.
    let half = 0.5 / 30.0 / 0.483 * 2.0;
    let most = 1.0 - (crate::synth::cycle(1.0 + half) - 1.0) / (crate::synth::cycle(1.0) - 1.0);
    assert!((0.3 * most..2.0 * most).contains(&told), "{told} {most}");
}

/// Turning so long that the list of strokes ends is told by how many more there were.
#[test]
fn strokes_beyond_the_list_are_counted() {
    let trace = samples(60.0, 320.0, 300.0, 47, |t| following(t, 0.3, |_| 1.0, 1010));
    let run = run_of(settings(), &trace);
    assert_eq!(run.strokes.len(), 1000);
    let more = run.flags.iter().find_map(|flag| match flag {
        Flag::StrokesNotListed { strokes } => Some(*strokes),
        _ => None,
    });
    assert!(
        more.is_some_and(|more| (5..=10).contains(&more)),
        "{more:?}"
    );
    let short = samples(60.0, 9.0, 300.0, 48, |t| following(t, 0.3, |_| 1.0, 20));
    let run = run_of(settings(), &short);
    assert!(!has(&run, |f| matches!(f, Flag::StrokesNotListed { .. })));
}

/// Strokes at intervals that are known: median, slowest, fastest, and the median deviation over the
/// median (definitions of order statistics, by hand); what is too long to be cranking is a pause.
#[test]
fn cadence_is_that_of_the_intervals() {
    use crate::synth::uneven;
    let periods = [0.40, 0.50, 0.44, 0.48, 0.40, 0.52, 0.44, 0.46, 0.50, 0.44];
    let strokes: Vec<(f64, f64)> = periods.iter().map(|period| (*period, 1.0)).collect();
    let trace = samples(1000.0, 8.0, 300.0, 49, |t| uneven(t, &strokes));
    let run = run_of(
        Settings {
            turned: Some(Turned::ByStarter),
            ..settings()
        },
        &trace,
    );
    // From top to top: half of one period and half of the next.
    let mut between: Vec<f64> = periods
        .windows(2)
        .map(|p| f64::midpoint(p[0], p[1]))
        .collect();
    between.sort_by(f64::total_cmp);
    let median = between[4];
    let mut off: Vec<f64> = between.iter().map(|b| (b - median).abs()).collect();
    off.sort_by(f64::total_cmp);
    let cadence = run.cadence.unwrap();
    assert!((1.0 / cadence.median.hz() - median).abs() < 2e-3);
    assert!((1.0 / cadence.slowest.hz() - between[8]).abs() < 2e-3);
    assert!((1.0 / cadence.fastest.hz() - between[0]).abs() < 2e-3);
    assert!((cadence.unevenness - off[4] / median).abs() < 5e-3);
    assert_eq!(cadence.pauses, 0);
}
