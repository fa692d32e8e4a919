//! The stop decision: when it is made, when it is not, and when it is taken back.

use crate::synth::{Noise, analyse, following, holding, runs, samples, settings, uneven};
use needlerest::signal::{Analyser, Event, Flag, Outcome, State};

fn calls(events: &[Event]) -> usize {
    let settled = |event: &&Event| matches!(event, Event::Settled(_));
    events.iter().filter(settled).count()
}

/// A pause proves nothing: however long nobody cranks, an unsettled reading stays unsettled.
#[test]
fn a_pause_never_settles_a_reading() {
    for strokes in 1..=4 {
        let trace = samples(100.0, 90.0, 500.0, 11, |t| {
            holding(t, 0.48, 1.4e6, 0.45, strokes)
        });
        let events = analyse(settings(), &trace);
        assert_eq!(calls(&events), 0, "{strokes} strokes");
        assert!(events.iter().any(|e| matches!(e, Event::Paused { .. })));
        let run = &runs(&events)[0];
        let early = |flag: &Flag| matches!(flag, Flag::StoppedEarly { .. });
        assert!(run.flags.iter().any(early), "{:?}", run.flags);
        if let Some(reading) = &run.reading {
            assert!(reading.extrapolated);
            let off = (reading.value.pa() - 1.4e6).abs();
            assert!(
                off < reading.expanded.pa(),
                "{strokes} strokes: {reading:?}"
            );
        }
    }
}

/// After a pause cranking goes on, and the reading settles where it should.
#[test]
fn cranking_that_goes_on_after_a_pause_settles() {
    let trace = samples(200.0, 20.0, 400.0, 12, |t| {
        // Five strokes, five seconds of nothing, then the rest.
        let paused = t.min(1.0 + 5.0 * 0.48) + (t - 8.4).max(0.0);
        holding(paused, 0.48, 1.4e6, 0.45, 16)
    });
    let events = analyse(settings(), &trace);
    let run = &runs(&events)[0];
    assert_eq!(run.outcome, Outcome::Settled, "{run:#?}");
    let reading = run.reading.as_ref().unwrap();
    assert!((reading.value.pa() / 1.4e6 - 1.0).abs() < 0.01);
    assert!(reading.settled_at_stroke.unwrap() > 5);
}

/// What had settled climbs again: the call is withdrawn, and made anew higher up.
#[test]
fn a_reading_that_climbs_again_is_withdrawn() {
    let trace = samples(200.0, 26.0, 800.0, 13, |t| {
        following(t, 0.48, |stroke| if stroke < 12 { 0.8 } else { 0.95 }, 50)
    });
    let events = analyse(settings(), &trace);
    let order: Vec<char> = events
        .iter()
        .filter_map(|event| match event {
            Event::Settled(_) => Some('s'),
            Event::Withdrawn { settled, now } => {
                assert!(now.pa() > settled.pa());
                Some('w')
            }
            _ => None,
        })
        .collect();
    assert_eq!(order, ['s', 'w', 's']);
    let run = &runs(&events)[0];
    assert!(run.flags.contains(&Flag::Withdrawn { times: 1 }));
    let reading = run.reading.as_ref().unwrap();
    let plateau = 0.95 * crate::synth::peak();
    assert!(
        (reading.value.pa() / plateau - 1.0).abs() < 0.01,
        "{reading:?}"
    );
}

/// Whoever cranks on after the call, and tires, does not spoil the reading.
#[test]
fn cranking_on_does_not_spoil_a_settled_reading() {
    let tiring = |n: u32| {
        if n < 8 {
            1.0
        } else {
            1.0 - 0.015 * f64::from(n - 7)
        }
    };
    let trace = samples(500.0, 14.0, 300.0, 19, |t| following(t, 0.6, tiring, 18));
    let events = analyse(settings(), &trace);
    let called = events.iter().find_map(|event| match event {
        Event::Settled(reading) => Some(reading.clone()),
        _ => None,
    });
    let called = called.unwrap();
    let run = &runs(&events)[0];
    assert_eq!(run.strokes.len(), 18);
    assert_eq!(run.outcome, Outcome::Settled);
    let last = run.reading.as_ref().unwrap();
    assert!(
        last.expanded <= called.expanded,
        "{called:?}, then {last:?}"
    );
    let plateau = crate::synth::peak();
    assert!((last.value.pa() / plateau - 1.0).abs() < 0.005, "{last:?}");
}

/// Kicks of three compressions whose strength falls off: the best of each kick counts, and the
/// weak ones do not pull the reading down.
#[test]
fn kicks_are_read_by_the_best_of_each() {
    let strengths = [1.0, 0.97, 0.6];
    let trace = samples(500.0, 40.0, 800.0, 14, |t| {
        // A kick every 2 s, its strokes 0.3 s apart.
        let kick = ((t - 1.0) / 2.0).floor();
        let within = t - 1.0 - 2.0 * kick;
        if t < 1.0 || kick > 15.0 {
            return 0.0;
        }
        following(1.0 + within, 0.3, |stroke| strengths[stroke as usize], 3)
    });
    let events = analyse(settings(), &trace);
    let run = &runs(&events)[0];
    assert_eq!(run.strokes.len(), 48);
    assert_eq!(run.outcome, Outcome::Settled, "{:#?}", run.reading);
    let value = run.reading.as_ref().unwrap().value.pa();
    assert!((value / crate::synth::peak() - 1.0).abs() < 0.01, "{value}");
    assert_eq!(run.build_up.unwrap().strokes, 16);
}

/// Strokes made by an arm, which scatter by far more than the tolerance in speed and in height,
/// hardly ever settle within a dozen.
#[test]
fn scatter_is_not_mistaken_for_a_plateau() {
    let mut called = 0;
    for seed in 20..60 {
        let mut noise = Noise(seed * 77 + 1);
        let strokes: Vec<(f64, f64)> = (0..12)
            .map(|_| {
                let strength = 1.0 + 0.05 * noise.normal();
                (0.6 / strength, strength)
            })
            .collect();
        let trace = samples(500.0, 10.0, 800.0, seed, |t| uneven(t, &strokes));
        called += calls(&analyse(settings(), &trace));
    }
    assert!(called <= 1, "{called} of 40 runs were called");
}

/// Kicks that differ by more than the tolerance: no call, and the reason is told with how many
/// kicks it would take (a mean of n kicks that scatter by s is known to s / √n).
#[test]
fn kicks_too_uneven_to_settle_are_told() {
    let tops = [1.0, 0.95, 0.99, 1.03, 0.96, 1.02, 0.94, 1.01];
    let trace = samples(500.0, 20.0, 800.0, 16, |t| {
        let kick = ((t - 1.0) / 2.0).floor();
        if t < 1.0 || kick >= tops.len() as f64 {
            return 0.0;
        }
        let top = tops[kick as usize];
        following(t - 2.0 * kick, 0.3, |n| if n == 0 { top } else { 0.6 }, 2)
    });
    let events = analyse(settings(), &trace);
    assert_eq!(calls(&events), 0);
    let run = &runs(&events)[0];
    let told = run.flags.iter().find_map(|flag| match flag {
        Flag::UnevenStrokes {
            scatter_share,
            needed,
        } => Some((*scatter_share, *needed)),
        _ => None,
    });
    let (scatter, needed) = told.unwrap_or_else(|| panic!("{run:#?}"));
    assert!((0.02..0.05).contains(&scatter), "{scatter}");
    assert!(needed > 2 * tops.len() as u32, "{needed}");
    let reading = run.reading.as_ref().unwrap();
    let mean = crate::synth::peak() * tops.iter().sum::<f64>() / tops.len() as f64;
    assert!((reading.value.pa() - mean).abs() < reading.expanded.pa());
}

/// A starter that turns the engine evenly needs two like strokes; an arm, which is slower and never makes
/// two that are quite alike, four.
#[test]
fn two_like_strokes_of_a_starter_are_enough() {
    for (period, at) in [(0.34, 2), (0.48, 2), (0.9, 4)] {
        let trace = samples(500.0, 12.0, 300.0, 17, |t| {
            following(t, period, |_| 1.0, 10)
        });
        let run = &runs(&analyse(settings(), &trace))[0];
        let reading = run.reading.as_ref().unwrap();
        assert_eq!(reading.settled_at_stroke, Some(at), "{period} s");
    }
}

/// With the throttle shut the manifold is full for the first stroke only: the strokes after it
/// count, however high it was.
#[test]
fn a_high_first_stroke_is_the_odd_one() {
    let trace = samples(500.0, 9.0, 300.0, 18, |t| {
        following(t, 0.48, |n| if n == 0 { 1.0 } else { 0.6 }, 12)
    });
    let run = &runs(&analyse(settings(), &trace))[0];
    assert_eq!(run.outcome, Outcome::Settled);
    let value = run.reading.as_ref().unwrap().value.pa();
    let low = 0.6 * crate::synth::peak();
    assert!((value / low - 1.0).abs() < 0.01, "{value}");
}

/// The gauge's snapshot tells where the run stands.
#[test]
fn live_state_follows_the_run() {
    let mut analyser = Analyser::new(settings());
    let mut events = Vec::new();
    let mut seen = Vec::new();
    for sample in samples(100.0, 11.0, 400.0, 15, |t| {
        if t > 10.0 {
            0.0
        } else {
            holding(t, 0.48, 1.4e6, 0.3, 14)
        }
    }) {
        analyser.push(sample, &mut events);
        let live = analyser.live();
        if seen.last() != Some(&live.state) {
            seen.push(live.state);
        }
        if let Some(estimate) = live.estimate {
            assert!(estimate.standard.pa() >= 0.0 && estimate.left_at_most.is_finite());
        }
    }
    assert_eq!(
        seen,
        [
            State::SeekingZero,
            State::Ready,
            State::Climbing,
            State::Settled,
            State::Ready
        ]
    );
}
