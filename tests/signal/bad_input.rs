//! Input that no engine gives: flags and no reading, never a call, never a panic.

use crate::synth::{Noise, analyse, following, runs, sample, samples, settings};
use needlerest::signal::{Event, Flag, Outcome, Rig, Sample, Settings};
use needlerest::units::Pressure;
use proptest::prelude::*;

fn never_called(settings: Settings, trace: &[Sample], what: &str) {
    for rig in [None, Some(Rig::Holding), Some(Rig::Following)] {
        let mut settings = settings;
        settings.rig = rig;
        let events = analyse(settings, trace);
        let called = events.iter().any(|e| matches!(e, Event::Settled { .. }));
        assert!(!called, "{what}, {rig:?}: called settled");
        for run in runs(&events) {
            assert_ne!(run.outcome, Outcome::Settled, "{what}");
            assert!(!run.flags.is_empty(), "{what}: no flag");
        }
    }
}

#[test]
fn constant_empty_and_saw_tooth() {
    never_called(settings(), &[], "empty");
    never_called(settings(), &[sample(0.0, 5e5)], "one sample");
    let constant = samples(100.0, 20.0, 0.0, 1, |_| 8e5);
    never_called(settings(), &constant, "constant");
    let ramp = samples(100.0, 30.0, 0.0, 1, |t| 4e4 * t);
    never_called(settings(), &ramp, "ramp");
    // A saw-tooth of ever the same height is what a following rig looks like; one that grows is
    // not, and a slow one has no top that could be fitted.
    let saw = samples(100.0, 30.0, 0.0, 1, |t| {
        let (n, within) = ((t / 0.5).floor(), (t / 0.5).fract());
        within * (2e5 + 3e4 * n)
    });
    never_called(settings(), &saw, "growing saw-tooth");
    let noise = samples(100.0, 30.0, 3e5, 1, |_| 0.0);
    never_called(settings(), &noise, "noise");
}

#[test]
fn saturated() {
    let trace = samples(100.0, 20.0, 0.0, 1, |t| if t < 1.0 { 0.0 } else { 2.5e6 });
    never_called(settings(), &trace, "saturated");
    let trace: Vec<Sample> = samples(100.0, 20.0, 0.0, 1, |t| following(t, 0.48, |_| 2.0, 30))
        .into_iter()
        .map(|mut s| {
            s.clipped = s.pressure.pa() >= 2.5e6;
            s.pressure = s.pressure.min(Pressure::from_pa(2.5e6));
            s
        })
        .collect();
    never_called(settings(), &trace, "clipped strokes");
}

/// What cannot be true is left out, counted, and changes nothing else.
#[test]
fn impossible_samples_are_left_out() {
    let good = samples(200.0, 9.0, 500.0, 3, |t| following(t, 0.48, |_| 1.0, 14));
    let mut bad = Vec::new();
    for (i, s) in good.iter().enumerate() {
        bad.push(*s);
        match i % 50 {
            10 => bad.push(sample(s.time.s(), f64::NAN)),
            20 => bad.push(sample(s.time.s(), f64::INFINITY)),
            30 => bad.push(sample(s.time.s() - 3.0, 1e6)),
            40 => bad.push(sample(s.time.s(), -1e300)),
            45 => bad.push(sample(f64::NAN, 0.0)),
            _ => {}
        }
    }
    let clean = &runs(&analyse(settings(), &good))[0];
    let run = &runs(&analyse(settings(), &bad))[0];
    let left_out = |flag: &&Flag| matches!(flag, Flag::BadSamples { .. });
    assert_eq!(run.flags.iter().filter(left_out).count(), 1);
    assert_eq!(run.strokes, clean.strokes);
    assert_eq!(run.reading, clean.reading);
}

#[test]
fn time_that_stands_still_or_runs_backwards() {
    let backwards: Vec<Sample> =
        samples(100.0, 10.0, 300.0, 4, |t| following(t, 0.48, |_| 1.0, 14))
            .into_iter()
            .rev()
            .collect();
    never_called(settings(), &backwards, "backwards");
    let still: Vec<Sample> = samples(100.0, 10.0, 300.0, 4, |t| following(t, 0.48, |_| 1.0, 14))
        .into_iter()
        .map(|s| sample(1.0, s.pressure.pa()))
        .collect();
    never_called(settings(), &still, "standing still");
}

/// Settings that nobody should give.
#[test]
fn absurd_settings_do_no_harm() {
    let trace = samples(100.0, 9.0, 500.0, 5, |t| following(t, 0.48, |_| 1.0, 14));
    for value in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e300] {
        let pressure = Pressure::from_pa(value);
        for settings in [
            Settings {
                resolution: pressure,
                ..settings()
            },
            Settings {
                ambient: pressure,
                ..settings()
            },
            Settings {
                range_max: Some(pressure),
                ..settings()
            },
            Settings {
                accuracy_standard: pressure,
                ..settings()
            },
            Settings {
                tolerance_share: value,
                ..settings()
            },
            Settings {
                sample_period: Some(needlerest::units::Time::from_s(value)),
                ..settings()
            },
        ] {
            analyse(settings, &trace);
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Anything at all: no panic, and every number that comes out is a number.
    #[test]
    fn anything(seed: u64, kind in 0..6_u8, rate in 1.0..2000.0_f64) {
        let mut noise = Noise(seed | 1);
        let mut level = 0.0;
        let mut t = 0.0;
        let trace: Vec<Sample> = (0..1500)
            .map(|i| {
                t += noise.normal().abs() / rate;
                level = match kind {
                    0 => 1e6 * noise.normal(),
                    1 => level + 2e4 * noise.normal(),
                    2 => if i % 40 < 3 { 1e6 } else { 0.0 },
                    3 => f64::from(i / 60) * 7e4,
                    4 => if noise.normal() > 2.0 { f64::NAN } else { 5e5 * noise.normal().abs() },
                    _ => 1e6 * libm::sin(t * 9.0),
                };
                let mut s = sample(t, level);
                s.gap_before = noise.normal() > 2.5;
                s.clipped = noise.normal() > 3.5;
                s
            })
            .collect();
        for run in runs(&analyse(settings(), &trace)) {
            for stroke in &run.strokes {
                prop_assert!(stroke.peak.is_finite() && stroke.cut_off.pa() >= 0.0);
            }
            if let Some(reading) = &run.reading {
                prop_assert!(reading.value.is_finite() && reading.expanded.pa() > 0.0);
            }
            if let Some(fit) = &run.build_up {
                prop_assert!(fit.plateau.is_finite() && fit.plateau_uncertainty.is_finite());
            }
        }
    }
}
