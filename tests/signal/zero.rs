//! The zero: both sides of each limit within which a level at rest is one.

use crate::synth::{AMBIENT, analyse, following, holding, runs, samples, settings};
use needlerest::signal::{Event, Flag, Outcome, Rig, RunResult, Sample, Settings, Zero};
use needlerest::units::Pressure;

fn zeroes(events: &[Event]) -> Vec<Zero> {
    let zero = |event: &Event| match event {
        Event::Zeroed(zero) => Some(*zero),
        _ => None,
    };
    events.iter().filter_map(zero).collect()
}

fn first(settings: Settings, trace: &[Sample]) -> RunResult {
    runs(&analyse(settings, trace)).remove(0)
}

/// Strokes from 2 s on, after a rest that `level` says.
fn after_rest(level: impl Fn(f64) -> f64) -> Vec<Sample> {
    samples(100.0, 8.0, 300.0, 90, |t| {
        if t < 2.0 {
            level(t)
        } else {
            level(2.0) + following(t - 1.0, 0.48, |_| 1.0, 11)
        }
    })
}

/// Told once, when it was watched for long enough; its doubt is that of a mean of some dozens of samples.
#[test]
fn the_zero_is_told_once_with_its_doubt() {
    let events = analyse(settings(), &after_rest(|_| 1500.0));
    let zeroes = zeroes(&events);
    assert_eq!(zeroes.len(), 1);
    assert!((zeroes[0].level.pa() - 1500.0).abs() < 150.0 && zeroes[0].measured);
    let run = &runs(&events)[0];
    assert!((run.zero.level.pa() - 1500.0).abs() < 4.0 * run.zero.standard.pa());
    assert!(
        (20.0..90.0).contains(&run.zero.standard.pa()),
        "{:?}",
        run.zero
    );
    assert!(
        (run.noise.pa() / 300.0 - 1.0).abs() < 0.2,
        "{}",
        run.noise.pa()
    );
}

/// The first zero may lie 1.5 atmospheres off; further off nothing is known of it, and the zero is the one
/// assumed: nothing for a gauge sensor, the air for an absolute one, within 2 % of an atmosphere.
#[test]
fn the_first_zero_may_be_far_off() {
    for (off, measured) in [(1.48, true), (-1.48, true), (1.52, false), (-1.52, false)] {
        let run = first(settings(), &after_rest(|_| off * AMBIENT));
        assert_eq!(run.zero.measured, measured, "{off}");
        let flagged = run.flags.contains(&Flag::NotZeroed);
        assert_eq!(flagged, !measured, "{off}: {:?}", run.flags);
        let assumed = if measured { off * AMBIENT } else { 0.0 };
        assert!((run.zero.level.pa() - assumed).abs() < 200.0, "{off}");
    }
    let trace = samples(100.0, 6.0, 300.0, 91, |t| {
        following(t + 1.2, 0.48, |_| 1.0, 14)
    });
    let gauge = first(settings(), &trace).zero;
    assert_eq!((gauge.level, gauge.measured), (Pressure::ZERO, false));
    assert!((gauge.standard.pa() - 0.02 * AMBIENT).abs() < 1e-6);
    let absolute = Settings {
        absolute: true,
        ..settings()
    };
    assert_eq!(first(absolute, &trace).zero.level, Pressure::ATMOSPHERE);
}

/// Before the first stroke a lower level shows that something was held until then; a higher one only that
/// something is held now.
#[test]
fn before_the_first_stroke_the_lower_level_is_the_zero() {
    let zero = |early: f64, late: f64| {
        let level = move |t: f64| if t < 1.0 { early } else { late };
        first(settings(), &after_rest(level)).zero.level.pa()
    };
    assert!((zero(90_000.0, 1000.0) - 1000.0).abs() < 300.0);
    // Higher by less than 3 % of an atmosphere, and by more.
    assert!((zero(0.0, 2500.0) - 2500.0).abs() < 900.0);
    assert!(zero(0.0, 15_000.0).abs() < 900.0, "{}", zero(0.0, 15_000.0));
}

/// Between two runs the zero is measured anew: within 3 % of an atmosphere of the one before it.
#[test]
fn between_runs_the_zero_moves_a_little() {
    let second = |off: f64, noise: f64| {
        let trace = samples(100.0, 24.0, noise, 92, move |t| {
            if t < 9.0 {
                holding(t, 0.48, 1.2e6, 0.3, 12)
            } else if t < 12.0 {
                off
            } else {
                off + holding(t - 11.0, 0.48, 1.2e6, 0.3, 12)
            }
        });
        let found = runs(&analyse(settings(), &trace));
        assert_eq!(found.len(), 2, "{off}");
        found[1].zero.level.pa()
    };
    let near = |off: f64, noise: f64, zero: f64| (second(off, noise) - zero).abs() < 0.5 * noise;
    assert!(near(2900.0, 200.0, 2900.0) && near(-2900.0, 200.0, -2900.0));
    assert!(near(3300.0, 200.0, 0.0) && near(-3300.0, 200.0, 0.0));
    // Or of five standard deviations of a noisy sensor.
    assert!(near(4500.0, 1000.0, 4500.0) && near(6000.0, 1000.0, 0.0));
}

/// A rise of a fifth of an atmosphere is the foot of a stroke, of less is none; so are four steps of a coarse
/// sensor and eight standard deviations of a noisy one.
#[test]
fn the_smallest_stroke() {
    let strokes = |settings: Settings, noise: f64, height: f64| {
        let trace = samples(200.0, 8.0, noise, 93, |t| {
            following(t, 0.48, |_| height / crate::synth::peak(), 10)
        });
        first(settings, &trace).strokes.len()
    };
    let following_rig = Settings {
        rig: Some(Rig::Following),
        ..settings()
    };
    assert_eq!(strokes(following_rig, 50.0, 0.19 * AMBIENT), 0);
    assert_eq!(strokes(following_rig, 50.0, 0.215 * AMBIENT), 10);
    let coarse = Settings {
        resolution: Pressure::from_kpa(10.0),
        ..following_rig
    };
    assert_eq!(strokes(coarse, 50.0, 39_000.0), 0);
    assert_eq!(strokes(coarse, 50.0, 42_000.0), 10);
    assert_eq!(strokes(following_rig, 5000.0, 25_000.0), 0);
    assert_eq!(strokes(following_rig, 5000.0, 60_000.0), 10);
}

/// The end of a bleed is let pass, and what comes after it is the zero.
#[test]
fn a_level_that_sinks_is_no_zero() {
    let trace = after_rest(|t| if t < 0.7 { 60_000.0 } else { 0.0 });
    let run = first(settings(), &trace);
    assert!(run.zero.level.pa().abs() < 100.0, "{:?}", run.zero);
    assert_eq!((run.strokes.len(), run.outcome), (11, Outcome::Settled));
}

/// A resolution leaves a noise of its own: a step over the root of twelve (JCGM 100, F.2.2.1).
#[test]
fn a_coarse_sensor_has_the_noise_of_its_step() {
    let coarse = Settings {
        resolution: Pressure::from_kpa(6.0),
        ..settings()
    };
    let trace = samples(100.0, 6.0, 0.0, 94, |t| following(t, 0.48, |_| 1.0, 9));
    let run = first(coarse, &trace);
    assert!((run.noise.pa() - 6000.0 / 12.0_f64.sqrt()).abs() < 1e-6);
    // The mean of what rest there was is known no better than the step allows.
    assert!(run.zero.standard.pa() > 6000.0 / 12.0_f64.sqrt() / 16.0);
}

/// That no zero was seen is told with the first rise, once; where one was seen, not at all.
#[test]
fn a_missing_zero_is_told_once() {
    let told = |trace: &[Sample]| {
        let events = analyse(settings(), trace);
        let missing = |event: &&Event| matches!(event, Event::Flagged(Flag::NotZeroed));
        events.iter().filter(missing).count()
    };
    let cranked = samples(100.0, 9.0, 300.0, 95, |t| {
        following(t + 1.2, 0.48, |_| 1.0, 14)
    });
    assert_eq!((told(&cranked), told(&after_rest(|_| 0.0))), (1, 0));
}

/// One odd sample at the very first, when nothing is known of the noise, makes no stroke of what follows.
#[test]
fn an_odd_first_sample_makes_no_stroke() {
    let trace = after_rest(|t| if t < 0.005 { -50_000.0 } else { 0.0 });
    let events = analyse(settings(), &trace);
    let missing = |event: &Event| matches!(event, Event::Flagged(Flag::NotZeroed));
    assert!(!events.iter().any(missing));
    let run = &runs(&events)[0];
    assert!(
        run.zero.measured && run.zero.level.pa().abs() < 200.0,
        "{:?}",
        run.zero
    );
    assert_eq!(run.strokes.len(), 11);
}
