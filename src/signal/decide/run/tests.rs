//! A run from strokes as a finder gives them, by hand.

use super::*;
use crate::signal::build_up::Turned;
use crate::signal::results::Zero;
use crate::signal::settings::Settings;

const INTERVAL: f64 = 0.5;

pub(super) fn settings(turned: Option<Turned>) -> Settings {
    Settings {
        turned,
        accuracy_standard: Pressure::from_pa(4000.0),
        resolution: Pressure::from_pa(120.0),
        ..Settings::default()
    }
}

pub(super) fn context(settings: &Settings, rig: Rig) -> Context<'_> {
    Context {
        settings,
        rig: Some(rig),
        zero: Zero {
            level: Pressure::from_pa(0.0),
            standard: Pressure::from_pa(60.0),
            measured: true,
        },
        noise: 200.0,
    }
}

pub(super) fn found(time: f64, level: f64) -> Found {
    Found {
        time,
        level,
        standard: 250.0,
        bias: 900.0,
        added: 500.0,
        cut_off: 0.0,
        from: 0.0,
        missing: false,
        clipped: false,
    }
}

/// A run of these levels at half a second each, and what it told.
pub(super) fn pushed(levels: &[f64], context: &Context<'_>) -> (Run, Vec<Event>) {
    let (mut run, mut events) = (Run::new(false), Vec::new());
    for (n, level) in levels.iter().enumerate() {
        let at = 1.0 + INTERVAL * n as f64;
        (run.started, run.ended) = (Some(run.started.unwrap_or(at)), at);
        run.push(&found(at, *level), context, &mut events);
    }
    (run, events)
}

/// Levels behind a check valve, each stroke leaving 0.3 of what was left of 1000 kPa to climb.
pub(super) fn climbing(strokes: i32) -> Vec<f64> {
    (1..=strokes)
        .map(|n| 1e6 * (1.0 - libm::pow(0.3, f64::from(n))))
        .collect()
}

/// Which stroke it is, how much higher than the one before, since when, and the needle.
#[test]
fn a_stroke_is_told_with_its_rise_interval_and_needle() {
    let settings = settings(Some(Turned::ByStarter));
    let (run, events) = pushed(&[4e5, 7e5, 6.9e5, 8e5], &context(&settings, Rig::Holding));
    let strokes: Vec<Stroke> = events
        .iter()
        .filter_map(|event| match event {
            Event::Stroke(stroke) => Some(*stroke),
            _ => None,
        })
        .collect();
    let told = |of: fn(&Stroke) -> f64| strokes.iter().map(of).collect::<Vec<_>>();
    assert_eq!(told(|s| f64::from(s.number)), [1.0, 2.0, 3.0, 4.0]);
    assert_eq!(told(|s| f64::from(s.count)), [1.0, 2.0, 3.0, 4.0]);
    assert_eq!(told(|s| s.peak.pa()), [4e5, 7e5, 6.9e5, 8e5]);
    assert_eq!(told(|s| s.rise.pa()), [4e5, 3e5, -1e4, 1.1e5]);
    assert_eq!(told(|s| s.needle.pa()), [4e5, 7e5, 7e5, 8e5]);
    assert_eq!(
        told(|s| s.interval.map_or(-1.0, Time::s)),
        [-1.0, 0.5, 0.5, 0.5]
    );
    assert_eq!(
        (run.strokes(), run.last().copied()),
        (4, strokes.last().copied())
    );
    // A top fitted before the one that came before it is put at its time.
    let (mut run, mut events) = pushed(&[4e5], &context(&settings, Rig::Holding));
    run.push(
        &found(0.9, 5e5),
        &context(&settings, Rig::Holding),
        &mut events,
    );
    assert_eq!(run.last().unwrap().time.s(), 1.0);
}

/// Pace and cadence of the last nine strokes, from the second one on.
#[test]
fn pace_and_cadence_come_with_the_second_stroke() {
    let settings = settings(Some(Turned::ByStarter));
    let context = context(&settings, Rig::Following);
    let (run, _) = pushed(&[1e6], &context);
    assert_eq!((run.usual_interval(), run.cadence()), (None, None));
    let (mut run, mut events) = pushed(&[1e6; 2], &context);
    assert_eq!(run.usual_interval(), Some(INTERVAL));
    assert!((run.cadence().unwrap().hz() - 2.0).abs() < 1e-9);
    // Eight intervals of 0.4 s later nothing is left of those before.
    let strokes = |run: &mut Run, count: u32, events: &mut Vec<Event>| {
        for _ in 0..count {
            let at = run.last().unwrap().time.s() + 0.4;
            run.push(&found(at, 1e6), &context, events);
        }
    };
    strokes(&mut run, 3, &mut events);
    assert!((run.cadence().unwrap().hz() - 2.5).abs() < 1e-9);
    let (mut run, mut events) = pushed(&[1e6; 20], &context);
    strokes(&mut run, 4, &mut events);
    // Four of 0.4 s and four of 0.5 s: the median lies between.
    assert!((1.0 / run.cadence().unwrap().hz() - 0.45).abs() < 1e-9);
    strokes(&mut run, 1, &mut events);
    assert!((1.0 / run.cadence().unwrap().hz() - 0.4).abs() < 1e-9);
}

pub(super) fn settled(events: &[Event]) -> Vec<(Reading, Call)> {
    let call = |event: &Event| match event {
        Event::Settled { reading, call } => Some((reading.clone(), *call)),
        _ => None,
    };
    events.iter().filter_map(call).collect()
}

/// The budget has each part as it was given, and their root of the sum of squares, twice (JCGM 100, 5.1.2
/// and 6.3.3).
#[test]
fn the_reading_states_each_part_of_its_uncertainty() {
    let settings = settings(Some(Turned::ByStarter));
    let (_, events) = pushed(&[1e6; 6], &context(&settings, Rig::Following));
    let (reading, call) = settled(&events).remove(0);
    assert_eq!((reading.value.pa(), call.count, call.unseen), (1e6, 4, 0));
    let part = |name: &str| {
        reading
            .budget
            .iter()
            .find(|line| line.source == name)
            .unwrap()
            .standard
            .pa()
    };
    assert_eq!(part("sensor accuracy"), 4000.0);
    assert!((part("resolution") - 120.0 / 12.0_f64.sqrt()).abs() < 1e-9);
    assert!((part("noise") - 250.0).abs() < 1e-9 && (part("zero") - 60.0).abs() < 1e-9);
    assert!((part("repeat") - 3000.0).abs() < 1e-6);
    assert!((part("sample rate") - 900.0).abs() < 1e-9);
    let squares = 4000.0_f64 * 4000.0 + 1200.0 + 62_500.0 + 3600.0 + 9e6 + 810_000.0;
    assert!((reading.expanded.pa() - 2.0 * squares.sqrt()).abs() < 1e-6);
    let relative = 2.0 * (squares - 16e6).sqrt();
    assert!((reading.expanded_relative.pa() - relative).abs() < 1e-6);
    // A level that is held needs no fast sensor.
    let (_, events) = pushed(&climbing(8), &context(&settings, Rig::Holding));
    let (reading, _) = settled(&events).remove(0);
    assert!(
        reading
            .budget
            .iter()
            .all(|line| line.source != "sample rate" || line.standard.pa() == 0.0)
    );
    assert!(!reading.is_at_least());
}

/// One stroke at the end of the sensor's range, and there is neither call nor reading.
#[test]
fn clipped_strokes_are_not_read() {
    let settings = settings(Some(Turned::ByStarter));
    let context = context(&settings, Rig::Holding);
    let (mut run, mut events) = pushed(&[8e5], &context);
    run.push(
        &Found {
            clipped: true,
            ..found(1.5, 1e6)
        },
        &context,
        &mut events,
    );
    for n in 0..6 {
        run.push(&found(2.0 + 0.5 * f64::from(n), 1e6), &context, &mut events);
    }
    assert_eq!(settled(&events).len(), 0);
    assert_eq!(run.end(&context, None).outcome, Outcome::NoReading);
}

/// The line goes through the way up and one more; its doubt is that of a level and of what its ratio leaves.
#[test]
fn the_build_up_is_the_way_up_and_one_more() {
    let settings = settings(Some(Turned::ByStarter));
    let context = context(&settings, Rig::Holding);
    let levels = climbing(12);
    let fit = pushed(&levels, &context)
        .0
        .end(&context, None)
        .build_up
        .unwrap();
    // 1 − 0.3ⁿ comes within 2 % of the last with the fourth; the line rests on that one and the next.
    assert_eq!(fit.strokes, 5);
    assert!(
        (fit.ratio - 0.3).abs() < 1e-4 && (fit.plateau.pa() / 1e6 - 1.0).abs() < 1e-4,
        "{fit:?}"
    );
    assert!((fit.first_share - 0.7).abs() < 1e-4);
    let standard = libm::hypot(250.0, fit.ratio_uncertainty * (fit.plateau.pa() - 7e5));
    assert!((fit.plateau_uncertainty.pa() / standard - 1.0).abs() < 1e-9);
    let share = libm::hypot(standard / fit.plateau.pa(), 250.0 / 7e5) * fit.first_share;
    assert!((fit.first_share_uncertainty / share - 1.0).abs() < 1e-9);
    // One that stands from the first on has a line of two.
    let fit = pushed(&[1e6; 6], &context)
        .0
        .end(&context, None)
        .build_up
        .unwrap();
    assert_eq!((fit.strokes, fit.ratio), (2, 0.0));
    // The plateau is no lower than where the needle came to rest in the end.
    let late: Vec<f64> = climbing(6).into_iter().chain([1.01e6]).collect();
    let fit = pushed(&late, &context)
        .0
        .end(&context, None)
        .build_up
        .unwrap();
    assert!((fit.plateau.pa() - 1.01e6).abs() < 1.0, "{fit:?}");
}

/// Without a check valve the better strokes are told by their highest samples, which a fit adds to.
#[test]
fn better_strokes_are_told_by_their_samples() {
    let settings = settings(Some(Turned::ByStarter));
    let context = context(&settings, Rig::Following);
    let (mut run, mut events) = (Run::new(false), Vec::new());
    // By their levels the first two would be the better half, by their samples the last two are.
    for (n, (level, added)) in [(1.2e6, 4e5), (1.1e6, 3e5), (1.0e6, 1e4), (1.02e6, 1e4)]
        .into_iter()
        .enumerate()
    {
        let found = Found {
            added,
            ..found(1.0 + 0.5 * n as f64, level)
        };
        run.push(&found, &context, &mut events);
    }
    assert!((run.last().unwrap().needle.pa() - 1.01e6).abs() < 1e-6);
}
