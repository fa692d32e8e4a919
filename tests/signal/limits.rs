//! Both sides of the limits by which rigs, runs, pauses and ends of range are told.

use crate::synth::{AMBIENT, analyse, following, holding, peak, runs, samples, settings};
use needlerest::signal::{
    Analyser, Event, Flag, Outcome, Rig, RunResult, Sample, Settings, Turned,
};
use needlerest::units::{Pressure, Time};

fn rigs(events: &[Event]) -> Vec<Rig> {
    let rig = |event: &Event| match event {
        Event::RigRecognised(rig) => Some(*rig),
        _ => None,
    };
    events.iter().filter_map(rig).collect()
}

fn known(rig: Rig) -> Settings {
    Settings {
        rig: Some(rig),
        turned: Some(Turned::ByStarter),
        ..settings()
    }
}

fn first(settings: Settings, trace: &[Sample]) -> RunResult {
    runs(&analyse(settings, trace)).remove(0)
}

/// A pulse of two fifths of an atmosphere shows how the sensor sits; lower ones are strokes of a rig that
/// is not known.
#[test]
fn a_pulse_that_is_large_enough_shows_the_rig() {
    let told = |height: f64| {
        let trace = samples(200.0, 7.0, 100.0, 70, |t| {
            following(t, 0.48, |_| height * AMBIENT / peak(), 10)
        });
        let events = analyse(settings(), &trace);
        (rigs(&events), runs(&events)[0].rig)
    };
    assert_eq!(told(0.42), (vec![Rig::Following], Some(Rig::Following)));
    assert_eq!(told(0.38), (vec![], None));
}

/// A rise that stays for a second is held; one that is gone before that was a stroke of a following rig,
/// whatever was thought of it.
#[test]
fn a_single_rise_that_is_gone_at_once_was_no_step() {
    let rise = |length: f64| {
        samples(100.0, 12.0, 200.0, 71, move |t| {
            if t >= 1.0 && t < 1.0 + length {
                8e5
            } else {
                0.0
            }
        })
    };
    let run = first(settings(), &rise(0.9));
    assert_eq!((run.rig, run.strokes.len()), (Some(Rig::Following), 1));
    let events = analyse(settings(), &rise(1.3));
    assert_eq!(rigs(&events), [Rig::Holding]);
    let bled = |event: &Event| matches!(event, Event::Bled { held } if (held.pa() / 8e5 - 1.0).abs() < 0.01);
    assert!(events.iter().any(bled), "{events:?}");
}

/// What is held is let go when it falls below three tenths of the highest level.
#[test]
fn a_fall_below_three_tenths_is_a_bleed() {
    let bled = |share: f64| {
        let trace = samples(100.0, 12.0, 100.0, 72, move |t| {
            if t < 9.0 {
                holding(t, 0.48, 1.2e6, 0.3, 12)
            } else {
                share * 1.2e6
            }
        });
        let events = analyse(known(Rig::Holding), &trace);
        let held: Vec<f64> = events
            .iter()
            .filter_map(|event| match event {
                Event::Bled { held } => Some(held.pa()),
                _ => None,
            })
            .collect();
        assert_eq!(runs(&events).len(), 1, "{share}");
        (
            held.len(),
            held.first()
                .is_none_or(|held| (held / 1.2e6 - 1.0).abs() < 0.01),
        )
    };
    assert_eq!((bled(0.31), bled(0.29)), ((0, true), (1, true)));
}

/// Three strokes of a rig outweigh a single odd pulse; fewer do not.
#[test]
fn a_pulse_after_three_strokes_changes_nothing() {
    let told = |strokes: u32| {
        let trace = samples(200.0, 16.0, 200.0, 73, move |t| {
            let before = following(t, 0.5, |_| 1.0, strokes);
            // Two strokes' time later something is held for three seconds.
            let from = 2.0 + 0.5 * f64::from(strokes);
            before + if t > from && t < from + 3.0 { 9e5 } else { 0.0 }
        });
        rigs(&analyse(settings(), &trace))
    };
    assert_eq!(told(3), [Rig::Following]);
    assert_eq!(told(2), [Rig::Following, Rig::Holding]);
}

/// Without a check valve a new run begins after 45 s without a stroke, unless the recording says when.
#[test]
fn a_long_silence_ends_a_run_of_a_following_rig() {
    let count = |silence: f64, told: bool| {
        let trace = samples(50.0, silence + 16.0, 200.0, 74, move |t| {
            following(t, 0.48, |_| 1.0, 8) + following(t - silence - 7.0 * 0.48, 0.48, |_| 1.0, 8)
        });
        let mut analyser = Analyser::new(known(Rig::Following));
        let mut events = Vec::new();
        if told {
            analyser.begin_run(&mut events);
        }
        for sample in trace {
            analyser.push(sample, &mut events);
        }
        analyser.finish(&mut events);
        runs(&events).len()
    };
    assert_eq!((count(44.9, false), count(45.2, false)), (1, 2));
    assert_eq!(count(60.0, true), 1);
}

/// A rise that comes to nothing (a piston that stays in its compression) is forgotten after three seconds:
/// rest is watched again, and where the sensor rests then is the zero of the strokes that follow.
#[test]
fn a_rise_that_comes_to_nothing_is_forgotten() {
    let zero = |after: f64| {
        let trace = samples(100.0, after + 8.0, 50.0, 75, |t| match t {
            t if t < 1.0 => 4000.0,
            t if t < 1.05 => 26_000.0,
            t if t < after => 13_000.0,
            _ => 6500.0 + following(t - after, 0.48, |_| 1.0, 12),
        });
        let run = first(known(Rig::Following), &trace);
        assert_eq!(run.strokes.len(), 12);
        run.zero.level.pa()
    };
    // Strokes begin a second after it has sunk.
    assert!((zero(2.8) - 4000.0).abs() < 100.0, "{}", zero(2.8));
    assert!((zero(4.2) - 6500.0).abs() < 100.0, "{}", zero(4.2));
}

/// Half a step below the end of the range a sensor is at its end; told once a run, counted to the end.
#[test]
fn the_end_of_the_range_is_told_once() {
    let clipped = |top: f64| {
        let trace = samples(200.0, 8.0, 0.0, 76, |t| {
            following(t, 0.48, |_| 2.0, 12).min(top)
        });
        let events = analyse(known(Rig::Following), &trace);
        let flagged = events
            .iter()
            .filter(|e| matches!(e, Event::Flagged(Flag::Clipped { .. })))
            .count();
        let counted = runs(&events)[0].flags.iter().find_map(|flag| match flag {
            Flag::Clipped { samples } => Some(*samples),
            _ => None,
        });
        let at_the_top = trace.iter().filter(|s| s.pressure.pa() >= top).count() as u64;
        (flagged, counted.map(|counted| counted == at_the_top))
    };
    // 2500 kPa in steps of 0.5 kPa.
    assert_eq!(
        (clipped(2.4999e6), clipped(2.4996e6)),
        ((1, Some(true)), (0, None))
    );
    // In each run anew.
    let trace = samples(100.0, 26.0, 0.0, 77, |t| {
        let held = |t: f64| holding(t, 0.48, 2.6e6, 0.3, 12).min(2.5e6);
        if t < 9.0 {
            held(t)
        } else if t < 12.0 {
            0.0
        } else {
            held(t - 11.0)
        }
    });
    let events = analyse(known(Rig::Holding), &trace);
    let flagged = events
        .iter()
        .filter(|e| matches!(e, Event::Flagged(Flag::Clipped { .. })))
        .count();
    assert_eq!((flagged, runs(&events).len()), (2, 2));
}

/// Nobody cranks for three times the usual interval, and a second at least: told once, until the next stroke.
#[test]
fn a_pause_is_told_once() {
    let pauses = |period: f64, pause: f64| {
        let trace = samples(200.0, 20.0, 200.0, 78, move |t| {
            let later = 4.0 * period + pause;
            following(t, period, |n| 0.7 + 0.07 * f64::from(n), 3)
                + following(t - later + period, period, |n| 0.9 + 0.1 * f64::from(n), 2)
        });
        let events = analyse(known(Rig::Following), &trace);
        let strokes: Vec<u32> = events
            .iter()
            .filter_map(|event| match event {
                Event::Paused { strokes } => Some(*strokes),
                _ => None,
            })
            .collect();
        strokes
    };
    // From top to top it is the pause and a period more; after the last stroke all is silent.
    assert_eq!(pauses(0.5, 0.95), [5]);
    assert_eq!(pauses(0.5, 1.05), [3, 5]);
    assert_eq!(pauses(0.3, 0.65), [5]);
    assert_eq!(pauses(0.3, 0.75), [3, 5]);
}

/// What the recording says of runs: one that was begun is a run, whatever is in it; what nothing was pushed
/// to is none.
#[test]
fn runs_that_the_recording_begins() {
    let mut events = Vec::new();
    Analyser::new(settings()).finish(&mut events);
    assert_eq!(events, []);
    let quiet = samples(100.0, 2.0, 100.0, 79, |_| 0.0);
    let count = |begin: &[usize]| {
        let mut analyser = Analyser::new(settings());
        let mut events = Vec::new();
        for (n, sample) in quiet.iter().enumerate() {
            if begin.contains(&n) {
                analyser.begin_run(&mut events);
            }
            analyser.push(*sample, &mut events);
        }
        analyser.finish(&mut events);
        runs(&events)
            .iter()
            .map(|run| run.started.s())
            .collect::<Vec<_>>()
    };
    assert_eq!(count(&[]), [0.0]);
    assert_eq!(count(&[50]), [0.5]);
    assert_eq!(count(&[50, 100]), [0.5, 1.0]);
    // Strokes without a word of the recording are a run that its word ends.
    let cranked = samples(100.0, 8.0, 100.0, 79, |t| following(t, 0.48, |_| 1.0, 12));
    let mut analyser = Analyser::new(settings());
    let mut events = Vec::new();
    for (n, sample) in cranked.iter().enumerate() {
        if n == 500 {
            analyser.begin_run(&mut events);
        }
        analyser.push(*sample, &mut events);
    }
    analyser.finish(&mut events);
    let strokes: Vec<usize> = runs(&events).iter().map(|run| run.strokes.len()).collect();
    assert_eq!((strokes.len(), strokes.iter().sum::<usize>()), (2, 12));
}

/// A single rise, never seen to fall, was at least held; the rig stays unclear.
#[test]
fn a_single_rise_at_the_end_is_read() {
    let trace = samples(100.0, 1.8, 100.0, 80, |t| if t < 1.0 { 0.0 } else { 7e5 });
    let run = first(settings(), &trace);
    assert_eq!((run.rig, run.strokes.len()), (None, 1));
    assert!((run.strokes[0].peak.pa() / 7e5 - 1.0).abs() < 0.001);
    assert!(run.flags.contains(&Flag::RigUnclear), "{:?}", run.flags);
}

/// The time between samples, given or measured, makes the blocks of a held level: noise that would be strokes
/// sample by sample is none in the mean of four.
#[test]
fn the_sample_period_is_measured_where_it_is_not_given() {
    let trace = samples(1000.0, 9.0, 3000.0, 81, |t| {
        holding(t, 0.48, 1.2e6, 0.3, 14)
    });
    let of = |period: Option<f64>| {
        let run = first(
            Settings {
                sample_period: period.map(Time::from_s),
                ..known(Rig::Holding)
            },
            &trace,
        );
        let reading = run.reading.unwrap();
        let noise = reading
            .budget
            .iter()
            .find(|line| line.source == "noise")
            .unwrap();
        (run.strokes.len(), noise.standard.pa(), run.outcome)
    };
    let (strokes, noise, outcome) = of(None);
    assert_eq!(outcome, Outcome::Settled);
    // Nine blocks of four: a sixth of a sample's noise.
    assert!((noise / 500.0 - 1.0).abs() < 0.3, "{noise}");
    assert_eq!(of(Some(0.001)), (strokes, noise, outcome));
    // A period that is none is measured as well.
    for absurd in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert_eq!(of(Some(absurd)), (strokes, noise, outcome), "{absurd}");
    }
    // Sample by sample only those within 30 ms of the top are averaged, twelve at most.
    assert!((of(Some(0.02)).1 / noise - 36.0_f64.sqrt() / 13.0_f64.sqrt()).abs() < 0.4);
}

/// An event says what a gauge then shows.
#[test]
fn live_shows_what_was_told() {
    let mut analyser = Analyser::new(known(Rig::Following));
    let mut events = Vec::new();
    assert_eq!(analyser.live().time, None);
    for sample in samples(100.0, 6.0, 100.0, 82, |t| {
        2000.0 + following(t, 0.48, |_| 1.0, 9)
    }) {
        events.clear();
        analyser.push(sample, &mut events);
        let live = analyser.live();
        assert_eq!(live.time, Some(sample.time));
        for event in &events {
            match event {
                Event::Stroke(stroke) => {
                    assert_eq!(live.last, Some(stroke.peak));
                    assert_eq!(live.needle, Some(stroke.needle));
                    assert_eq!(live.strokes, stroke.number);
                }
                Event::Counted(count) => assert_eq!(live.count, Some(*count)),
                Event::Zeroed(zero) => {
                    assert_eq!(live.pressure, Some(sample.pressure - zero.level));
                }
                _ => {}
            }
        }
    }
    let live = analyser.live();
    assert!((live.cadence.unwrap().hz() * 0.48 - 1.0).abs() < 0.02);
    assert!(live.pressure.unwrap().pa().abs() < 600.0);
    assert_eq!(live.rig, Some(Rig::Following));
    assert!(Pressure::from_pa(1e6) < live.needle.unwrap());
}
