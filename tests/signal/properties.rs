//! What must not change a decision: an offset before the zero, the unit, how the samples are
//! handed over, when the recording began.

use crate::synth::{analyse, following, holding, runs, samples, settings};
use needlerest::signal::{Analyser, Event, RunResult, Sample, Settings};
use needlerest::units::{Pressure, Time};
use proptest::prelude::*;

fn trace(rig: bool, seed: u64, ratio: f64, period: f64) -> Vec<Sample> {
    trace_at(200.0, rig, seed, ratio, period)
}

fn trace_at(rate: f64, rig: bool, seed: u64, ratio: f64, period: f64) -> Vec<Sample> {
    samples(rate, 10.0, 600.0, seed, |t| {
        if rig {
            if t > 9.5 {
                0.0
            } else {
                holding(t, period, 1.3e6, ratio, 30)
            }
        } else {
            following(
                t,
                period,
                |stroke| 1.0 - 0.2 * libm::pow(ratio, f64::from(stroke)),
                30,
            )
        }
    })
}

/// Everything decided, without the numbers.
fn decisions(runs: &[RunResult]) -> Vec<(usize, String, Option<u32>)> {
    runs.iter()
        .map(|run| {
            let settled = run.call.map(|call| call.count);
            (run.strokes.len(), format!("{:?}", run.outcome), settled)
        })
        .collect()
}

fn scaled(settings: Settings, by: f64) -> Settings {
    Settings {
        ambient: settings.ambient * by,
        resolution: settings.resolution * by,
        accuracy_standard: settings.accuracy_standard * by,
        range_max: settings.range_max.map(|range| range * by),
        ..settings
    }
}

fn change(trace: &[Sample], with: impl Fn(&mut Sample)) -> Vec<Sample> {
    let mut changed = trace.to_vec();
    changed.iter_mut().for_each(with);
    changed
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn an_offset_before_the_zero(rig: bool, seed in 1..1000_u64, ratio in 0.1..0.6_f64, off in -4e4..4e4_f64) {
        let trace = trace(rig, seed, ratio, 0.45);
        let shifted = change(&trace, |s| s.pressure = s.pressure + Pressure::from_pa(off));
        let (a, b) = (runs(&analyse(settings(), &trace)), runs(&analyse(settings(), &shifted)));
        prop_assert_eq!(decisions(&a), decisions(&b));
        for (a, b) in a.iter().zip(&b) {
            if let (Some(a), Some(b)) = (&a.reading, &b.reading) {
                prop_assert!((a.value.pa() - b.value.pa()).abs() < 1e-3);
            }
        }
    }

    #[test]
    fn the_unit(rig: bool, seed in 1..1000_u64, ratio in 0.1..0.6_f64, power in -10..10_i32) {
        // Powers of two keep every digit.
        let by = libm::exp2(f64::from(power));
        let trace = trace(rig, seed, ratio, 0.45);
        let other = change(&trace, |s| s.pressure = s.pressure * by);
        let a = runs(&analyse(settings(), &trace));
        let b = runs(&analyse(scaled(settings(), by), &other));
        prop_assert_eq!(decisions(&a), decisions(&b));
        for (a, b) in a.iter().zip(&b) {
            if let (Some(a), Some(b)) = (&a.reading, &b.reading) {
                prop_assert!((a.value.pa() * by / b.value.pa() - 1.0).abs() < 1e-9);
            }
        }
    }

    /// Live, samples come a few at a time and somebody looks at the gauge in between; in a
    /// replay they come all at once.
    #[test]
    fn how_the_samples_are_handed_over(rig: bool, seed in 1..1000_u64, chunk in 1..50_usize) {
        let trace = trace(rig, seed, 0.35, 0.45);
        let mut analyser = Analyser::new(settings());
        let mut all = Vec::new();
        for part in trace.chunks(chunk) {
            let mut news: Vec<Event> = Vec::new();
            for sample in part {
                analyser.push(*sample, &mut news);
            }
            let _ = analyser.live();
            all.append(&mut news);
        }
        analyser.finish(&mut all);
        prop_assert_eq!(all, analyse(settings(), &trace));
    }

    #[test]
    fn when_the_recording_began(rig: bool, seed in 1..1000_u64, hours in 0..100_u32) {
        // Times that are exact whatever is added to them.
        let trace = trace_at(256.0, rig, seed, 0.35, 0.45);
        let later = Time::from_s(f64::from(hours) * 3600.0);
        let moved = change(&trace, |s| s.time = s.time + later);
        let (a, b) = (runs(&analyse(settings(), &trace)), runs(&analyse(settings(), &moved)));
        prop_assert_eq!(decisions(&a), decisions(&b));
    }
}
