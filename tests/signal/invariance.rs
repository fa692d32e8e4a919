//! What must not matter: when the clock began, and where the sensor's zero lies.

use crate::synth::{analyse, following, holding, runs, samples, settings};
use needlerest::signal::{RunResult, Sample};
use needlerest::units::{Pressure, Time};

/// Either rig, with a leak behind the check valve.
fn traces() -> [Vec<Sample>; 2] {
    let held = |t: f64| {
        if t > 15.0 {
            0.0
        } else {
            holding(t, 0.48, 1.4e6, 0.2, 10) - 3000.0 * (t - 1.5).max(0.0)
        }
    };
    [
        samples(100.0, 9.0, 500.0, 61, |t| following(t, 0.48, |_| 1.0, 14)),
        samples(100.0, 16.0, 500.0, 62, held),
    ]
}

fn run_of(trace: &[Sample]) -> RunResult {
    let mut found = runs(&analyse(settings(), trace));
    assert!(!found.is_empty());
    found.remove(0)
}

/// Everything that a run tells in numbers, but for times of day.
fn told(run: &RunResult) -> Vec<f64> {
    let reading = run.reading.as_ref().unwrap();
    let mut numbers = vec![
        reading.value.pa(),
        reading.expanded.pa(),
        run.noise.pa(),
        f64::from(run.count),
        run.call.as_ref().map_or(0.0, |call| f64::from(call.count)),
    ];
    numbers.extend(reading.budget.iter().map(|part| part.standard.pa()));
    numbers.extend(
        run.build_up
            .iter()
            .flat_map(|fit| [fit.plateau.pa(), fit.ratio]),
    );
    numbers.extend(
        run.cadence
            .iter()
            .flat_map(|c| [c.median.hz(), c.slowest.hz(), c.unevenness]),
    );
    numbers.extend(run.droop.iter().flat_map(|droop| {
        [
            droop.per_second.pa(),
            droop.per_second_standard.pa(),
            droop.watched.s(),
        ]
    }));
    numbers.extend(run.strokes.iter().map(|stroke| stroke.peak.pa()));
    numbers
}

fn same(ours: &RunResult, theirs: &RunResult, within: f64) {
    assert_eq!(
        (ours.rig, ours.outcome, ours.grade),
        (theirs.rig, theirs.outcome, theirs.grade)
    );
    assert_eq!(
        ours.flags.len(),
        theirs.flags.len(),
        "{:?} {:?}",
        ours.flags,
        theirs.flags
    );
    let (ours, theirs) = (told(ours), told(theirs));
    assert_eq!(ours.len(), theirs.len());
    for (a, b) in ours.iter().zip(&theirs) {
        assert!((a - b).abs() <= within * a.abs().max(1e-3), "{a} {b}");
    }
}

/// A recording that began an hour earlier, or in which the engine is turned at once, tells the same.
#[test]
fn when_the_clock_began_does_not_matter() {
    for trace in traces() {
        let base = run_of(&trace);
        // Times are rounded otherwise, so that a sample here and there falls into the next stretch.
        for later in [64.0, 4096.0] {
            let moved: Vec<Sample> = trace
                .iter()
                .map(|sample| Sample {
                    time: sample.time + Time::from_s(later),
                    ..*sample
                })
                .collect();
            let run = run_of(&moved);
            same(&base, &run, 0.25);
            let value = |run: &RunResult| run.reading.as_ref().unwrap().value.pa();
            assert!((value(&run) / value(&base) - 1.0).abs() < 1e-4);
            assert!(((run.started - base.started).s() - later).abs() < 1e-6);
            assert!(((run.ended - base.ended).s() - later).abs() < 1e-6);
        }
    }
}

/// A zero that lies 3 kPa off is taken off: all else is told as without it.
#[test]
fn where_the_zero_lies_does_not_matter() {
    for trace in traces() {
        let base = run_of(&trace);
        for off in [3000.0, -3000.0] {
            let moved: Vec<Sample> = trace
                .iter()
                .map(|sample| Sample {
                    pressure: sample.pressure + Pressure::from_pa(off),
                    ..*sample
                })
                .collect();
            let run = run_of(&moved);
            same(&base, &run, 1e-6);
            assert!(((run.zero.level - base.zero.level).pa() - off).abs() < 1e-3);
        }
    }
}
