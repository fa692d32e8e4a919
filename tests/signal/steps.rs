//! The needle and the call behind a check valve, held against change points that a general-purpose
//! library finds in the same samples (`fixtures/signal/steps.py`; ruptures, PELT).

use crate::synth::{analyse, runs, sample};
use needlerest::signal::{Analyser, Event, Outcome, Rig, Settings, Turned};
use needlerest::units::{Pressure, Time};
use serde::Deserialize;

#[derive(Deserialize)]
struct Fixture {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    name: String,
    who: String,
    rate_hz: f64,
    resolution_pa: f64,
    patience_s: f64,
    samples_pa: Vec<f64>,
    needle_pa: f64,
    stopped_s: Option<f64>,
}

fn cases() -> Vec<(Case, Settings)> {
    let text = include_str!("../../fixtures/signal/steps.json");
    let fixture: Fixture = serde_json::from_str(text).expect("JSON");
    let settings = |case: &Case| Settings {
        turned: Some(if case.who == "kicks" {
            Turned::InKicks
        } else {
            Turned::ByStarter
        }),
        resolution: Pressure::from_pa(case.resolution_pa),
        sample_period: Some(Time::from_s(1.0 / case.rate_hz)),
        ..Settings::default()
    };
    let with = |case: Case| {
        let settings = settings(&case);
        (case, settings)
    };
    fixture.cases.into_iter().map(with).collect()
}

/// Samples at their times.
fn trace(case: &Case) -> Vec<needlerest::signal::Sample> {
    let numbered = case.samples_pa.iter().enumerate();
    numbered
        .map(|(n, pa)| sample(n as f64 / case.rate_hz, *pa))
        .collect()
}

/// A level between two changes is a mean; the needle may stand on the top of a step that then
/// falls a little, as the gas cools.
#[test]
fn the_needle_is_the_highest_level_between_change_points() {
    for (case, settings) in cases() {
        let run = runs(&analyse(settings, &trace(&case))).remove(0);
        assert_eq!(run.rig, Some(Rig::Holding), "{}", case.name);
        let needle = run.reading.expect("a reading").value.pa();
        let off = needle / case.needle_pa - 1.0;
        assert!(
            (-0.004..0.025).contains(&off),
            "{}: {:.2} %",
            case.name,
            100.0 * off
        );
    }
}

/// The plain rule (no rise above 2 % for three strokes, or 6 s of kicks) on the library's levels,
/// and STOP: within one stroke of a starter of each other, or two kicks.
#[test]
fn stop_comes_when_the_change_points_say_that_it_stopped() {
    for (case, settings) in cases() {
        let mut analyser = Analyser::new(settings);
        let (mut events, mut called) = (Vec::new(), None);
        for sample in trace(&case) {
            analyser.push(sample, &mut events);
            let stop = |event: &Event| matches!(event, Event::Settled { .. });
            if called.is_none() && events.drain(..).any(|event| stop(&event)) {
                called = Some(sample.time.s());
            }
            events.clear();
        }
        let step = case.patience_s / 3.0;
        let allowed = if case.who == "kicks" {
            2.0 * step
        } else {
            step
        };
        println!("{}: {called:?} and {:?}, {step}", case.name, case.stopped_s);
        match (called, case.stopped_s) {
            (Some(called), Some(stopped)) => {
                let off = called - stopped;
                assert!(
                    off.abs() <= allowed,
                    "{}: {called} and {stopped}",
                    case.name
                );
            }
            (called, None) => assert_eq!(called, None, "{}", case.name),
            (None, stopped) => panic!("{}: silent, but {stopped:?}", case.name),
        }
    }
}

/// What is called settled does not say "at least".
#[test]
fn what_is_called_is_a_reading() {
    for (case, settings) in cases() {
        let run = runs(&analyse(settings, &trace(&case))).remove(0);
        let reading = run.reading.expect("a reading");
        assert_eq!(
            reading.is_at_least(),
            run.outcome == Outcome::StillClimbing,
            "{}",
            case.name
        );
    }
}
