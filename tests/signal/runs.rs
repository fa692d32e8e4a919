//! A plain run on either rig.

use crate::synth::{analyse, following, holding, peak, runs, samples, settings};
use needlerest::signal::{Event, Outcome, Rig};

#[test]
fn following_rig_reads_the_steady_peak() {
    let trace = samples(200.0, 8.0, 1000.0, 1, |t| following(t, 0.48, |_| 1.0, 12));
    let events = analyse(settings(), &trace);
    let runs = runs(&events);
    assert_eq!(runs.len(), 1);
    let run = &runs[0];
    assert_eq!(run.rig, Some(Rig::Following));
    assert_eq!(run.strokes.len(), 12);
    assert_eq!(run.outcome, Outcome::Settled, "{run:#?}");
    let reading = run.reading.as_ref().unwrap();
    assert!(
        (reading.value.pa() / peak() - 1.0).abs() < 0.005,
        "{reading:?}"
    );
    assert!((reading.value.pa() - peak()).abs() < reading.expanded.pa());
}

#[test]
fn holding_rig_reads_the_plateau() {
    let trace = samples(100.0, 9.0, 500.0, 2, |t| {
        if t > 8.0 {
            0.0
        } else {
            holding(t, 0.48, 1.4e6, 0.35, 10)
        }
    });
    let events = analyse(settings(), &trace);
    let runs = runs(&events);
    assert_eq!(runs.len(), 1, "{events:#?}");
    let run = &runs[0];
    assert_eq!(run.rig, Some(Rig::Holding));
    assert_eq!(run.outcome, Outcome::Settled, "{run:#?}");
    let reading = run.reading.as_ref().unwrap();
    assert!(
        (reading.value.pa() / 1.4e6 - 1.0).abs() < 0.005,
        "{reading:?}"
    );
    assert!(run.call.unwrap().count <= 9);
}

#[test]
fn stopping_after_three_strokes_gives_what_the_needle_showed_at_least() {
    let trace = samples(100.0, 20.0, 500.0, 3, |t| holding(t, 0.48, 1.4e6, 0.35, 3));
    let events = analyse(settings(), &trace);
    let run = &runs(&events)[0];
    assert_eq!(run.strokes.len(), 3);
    assert_eq!(run.outcome, Outcome::StillClimbing, "{run:#?}");
    let reading = run.reading.as_ref().unwrap();
    let shown = 1.4e6 * (1.0 - libm::pow(0.35, 3.0));
    assert!(
        (reading.value.pa() / shown - 1.0).abs() < 0.002,
        "{reading:?}"
    );
    // Each stroke left 35 % of what was left before it.
    let heading = reading.heading.unwrap().pa();
    assert!((heading / 1.4e6 - 1.0).abs() < 0.01, "{reading:?}");
}

/// One recording, three cylinders: a bleed ends a run, and the zero is measured again.
#[test]
fn bleeds_divide_a_recording_into_runs() {
    let plateaus = [1.4e6, 1.1e6, 1.3e6];
    let trace = samples(100.0, 36.0, 400.0, 4, |t| {
        let (which, t) = ((t / 12.0) as usize, t % 12.0);
        if t > 8.0 {
            0.0
        } else {
            holding(t, 0.48, plateaus[which], 0.3, 12)
        }
    });
    let events = analyse(settings(), &trace);
    let runs = runs(&events);
    assert_eq!(runs.len(), 3);
    for (run, plateau) in runs.iter().zip(plateaus) {
        let reading = run.reading.as_ref().unwrap();
        assert!((reading.value.pa() - plateau).abs() < reading.expanded.pa());
        assert!((reading.value.pa() / plateau - 1.0).abs() < 0.01);
    }
    let bleeds = events.iter().filter(|e| matches!(e, Event::Bled { .. }));
    assert_eq!(bleeds.count(), 3);
}

/// A sensor of absolute pressure reads the same: the air's pressure is its zero.
#[test]
fn absolute_sensor_reads_gauge_pressure() {
    let mut absolute = settings();
    absolute.absolute = true;
    let trace = samples(200.0, 8.0, 1000.0, 1, |t| {
        97_000.0 + following(t, 0.48, |_| 1.0, 12)
    });
    let run = &runs(&analyse(absolute, &trace))[0];
    assert!((run.zero.level.pa() - 97_000.0).abs() < 300.0);
    let value = run.reading.as_ref().unwrap().value.pa();
    assert!((value / peak() - 1.0).abs() < 0.005);
}

/// A sound engine on a short hose, let go after three strokes of which the last two hardly lifted the needle: it is
/// read, and says neither "at least" nor that nothing can be said.
#[test]
fn three_strokes_that_came_to_rest_are_read() {
    // 98.5, 99.4 and 99.8 % of the level.
    let level = |stroke: u32| 1.2e6 * (1.0 - 0.015 * libm::pow(0.37, f64::from(stroke) - 1.0));
    let trace = samples(100.0, 2.5, 200.0, 5, |t| {
        let strokes = ((t - 0.52) / 0.48).max(0.0) as u32;
        if strokes == 0 {
            0.0
        } else {
            level(strokes.min(3))
        }
    });
    let run = &runs(&analyse(settings(), &trace))[0];
    assert_eq!(
        (run.strokes.len(), run.outcome),
        (3, Outcome::AtRest),
        "{run:#?}"
    );
    let reading = run.reading.as_ref().unwrap();
    assert!((reading.value.pa() - level(3)).abs() < reading.expanded.pa());
    assert!(!reading.is_at_least() && reading.expanded.pa() < 0.05 * level(3));
}
