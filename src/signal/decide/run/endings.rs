//! How a run goes on and ends: calls, counts by time, what is read in the end.

use super::tests::{climbing, context, pushed, settings, settled};
use super::*;
use crate::signal::build_up::Turned;
use crate::signal::results::Flag;
use crate::signal::settings::Settings;

/// What is wider than half of itself is no reading; both sides.
#[test]
fn what_is_too_wide_is_no_reading() {
    let read = |accuracy: f64| {
        let settings = Settings {
            accuracy_standard: Pressure::from_pa(accuracy),
            ..settings(Some(Turned::ByStarter))
        };
        let (run, events) = pushed(&[1e6; 6], &context(&settings, Rig::Following));
        let result = run.end(&context(&settings, Rig::Following), None);
        assert_eq!(result.reading.is_some(), !settled(&events).is_empty());
        (result.outcome, result.reading.is_some())
    };
    assert_eq!(read(2.47e5), (Outcome::Settled, true));
    assert_eq!(read(2.51e5), (Outcome::NoReading, false));
}

/// Taken back once the needle is higher than what was called by more than the tolerance of it; called anew.
#[test]
fn a_call_is_taken_back_beyond_the_tolerance() {
    let settings = settings(Some(Turned::ByStarter));
    let told = |higher: f64| {
        let levels: Vec<f64> = [1e6; 5].into_iter().chain([1e6 + higher; 5]).collect();
        let (run, events) = pushed(&levels, &context(&settings, Rig::Holding));
        let withdrawn: Vec<(f64, f64)> = events
            .iter()
            .filter_map(|event| match event {
                Event::Withdrawn { settled, now } => Some((settled.pa(), now.pa())),
                _ => None,
            })
            .collect();
        let calls = settled(&events).len();
        let result = run.end(&context(&settings, Rig::Holding), None);
        (
            withdrawn,
            calls,
            result.flags.contains(&Flag::Withdrawn { times: 1 }),
        )
    };
    assert_eq!(told(19_900.0), (vec![], 1, false));
    assert_eq!(told(20_100.0), (vec![(1e6, 1.02e6 + 100.0)], 2, true));
}

/// Ended before the call: at rest where the last two lifted little, climbing where they did not.
#[test]
fn how_a_run_ends() {
    let settings = settings(Some(Turned::ByStarter));
    let context = context(&settings, Rig::Holding);
    let end = |levels: &[f64]| pushed(levels, &context).0.end(&context, None);
    let run = end(&climbing(8));
    assert_eq!((run.outcome, run.call.is_some()), (Outcome::Settled, true));
    let run = end(&[9.9e5, 9.95e5, 1e6]);
    assert_eq!(
        (run.outcome, run.call, run.count),
        (Outcome::AtRest, None, 3)
    );
    assert_eq!(run.reading.unwrap().heading, None);
    let run = end(&climbing(3));
    assert_eq!(run.outcome, Outcome::StillClimbing);
    let heading = run.reading.unwrap().heading.unwrap().pa();
    assert!((heading / 1e6 - 1.0).abs() < 1e-4, "{heading}");
    let run = end(&[]);
    assert_eq!(
        (run.outcome, run.reading, run.build_up, run.cadence),
        (Outcome::NoReading, None, None, None)
    );
}

/// Looks at a needle that stands: counted as it was due, told once each.
#[test]
fn time_is_counted_once() {
    let settings = settings(Some(Turned::ByStarter));
    let context = context(&settings, Rig::Holding);
    let (mut run, mut events) = pushed(&[4e5, 7e5, 9e5], &context);
    events.clear();
    assert!((run.next_look - 2.65).abs() < 1e-9, "{}", run.next_look);
    for now in [2.6, 2.7, 2.8, 3.1, 3.2, 3.3] {
        run.look(now, &context, &mut events);
    }
    let made: Vec<(u32, u32)> = events
        .iter()
        .filter_map(|event| match event {
            Event::Counted(count) => Some((count.made, count.unseen)),
            _ => None,
        })
        .collect();
    assert_eq!(made, [(4, 1), (5, 2)]);
    let count = run.count(&context).unwrap();
    assert_eq!(
        (count.made, count.needle.pa(), count.tolerance.pa()),
        (5, 9e5, 18e3)
    );
    assert_eq!((count.turned, count.to_go), (Turned::ByStarter, None));
    assert!(count.heading > count.needle);
}

/// Nor is it told again where a call was taken back and nothing has come since.
#[test]
fn a_count_is_not_told_again_after_a_call_was_taken_back() {
    let settings = settings(Some(Turned::ByStarter));
    let context = context(&settings, Rig::Holding);
    let (mut run, mut events) = pushed(&[1e6, 1e6, 1e6, 1e6, 1.1e6], &context);
    assert!(
        events
            .iter()
            .any(|event| matches!(event, Event::Withdrawn { .. }))
    );
    events.clear();
    run.look(3.05, &context, &mut events);
    assert_eq!(events, []);
}

/// Where only strokes are wanted nothing is decided.
#[test]
fn strokes_only_decides_nothing() {
    let only = Settings {
        strokes_only: true,
        ..settings(Some(Turned::ByStarter))
    };
    let (run, events) = pushed(&[1e6; 6], &context(&only, Rig::Following));
    assert!(events.iter().all(|event| matches!(event, Event::Stroke(_))) && !run.settled());
    assert!(run.next_look.is_infinite());
}

/// What was found for the wrong rig is forgotten; what samples said is not.
#[test]
fn a_restart_forgets_the_strokes() {
    let settings = settings(None);
    let (mut run, _) = pushed(&[1e6; 6], &context(&settings, Rig::Following));
    (run.clipped_samples, run.refused_samples) = (3, 4);
    run.restart();
    assert_eq!((run.strokes(), run.last(), run.settled()), (0, None, false));
    assert_eq!((run.started, run.ended), (Some(1.0), 3.5));
    assert_eq!((run.clipped_samples, run.refused_samples), (3, 4));
}

/// Three chances of which the last was only due are enough to rest; without looking at the time since the last
/// stroke there were two, and the needle climbs.
#[test]
fn a_needle_that_rests_by_its_time_is_read() {
    let settings = settings(Some(Turned::ByStarter));
    let context = context(&settings, Rig::Holding);
    let read = |until: f64| {
        let (mut run, mut events) = pushed(&[9.9e5, 1e6], &context);
        run.look(until, &context, &mut events);
        assert!(!run.settled());
        run.end(&context, None)
    };
    let rests = read(2.16);
    assert_eq!(
        (rests.outcome, rests.reading.unwrap().heading),
        (Outcome::AtRest, None)
    );
    assert_eq!(read(2.14).outcome, Outcome::StillClimbing);
}

/// A call is remembered until it is taken back.
#[test]
fn a_run_knows_that_it_settled() {
    let settings = settings(Some(Turned::ByStarter));
    let context = context(&settings, Rig::Holding);
    assert!(!pushed(&[1e6; 3], &context).0.settled());
    assert!(pushed(&[1e6; 4], &context).0.settled());
    assert!(!pushed(&[1e6, 1e6, 1e6, 1e6, 1.1e6], &context).0.settled());
    // What is read in the end is where the needle stood when it was looked at last.
    let (run, _) = pushed(&[1e6, 1e6, 1e6, 1e6, 1.01e6], &context);
    assert_eq!(run.end(&context, None).reading.unwrap().value.pa(), 1.01e6);
}
