//! Both sides of each limit by which strokes are sorted into chances.

use super::*;

const KICKS: Option<Turned> = Some(Turned::InKicks);
const STARTER: Option<Turned> = Some(Turned::ByStarter);
const HOLDING: Option<Rig> = Some(Rig::Holding);

fn at(times: &[f64]) -> Vec<Made> {
    let made = |time: &f64| Made {
        time: *time,
        level: 1e6,
        sampled: 1e6,
    };
    times.iter().map(made).collect()
}

/// Strokes so far apart, from 2 s on.
fn apart(intervals: &[f64]) -> Vec<Made> {
    let mut time = 2.0;
    let mut times = vec![time];
    for interval in intervals {
        time += interval;
        times.push(time);
    }
    at(&times)
}

fn turned_by(intervals: &[f64], told: Option<Turned>) -> Turned {
    of(&apart(intervals), told).turned
}

/// Strokes that go on for 1.3 s are no kick, whoever makes them; what the card says of kicks holds up to 3 s,
/// and of steady cranking always.
#[test]
fn strokes_that_go_on_are_no_kick() {
    // Uneven, so that only how long they go on tells.
    assert_eq!(turned_by(&[0.2, 0.4, 0.2, 0.4], None), Turned::InKicks);
    assert_eq!(
        turned_by(&[0.2, 0.4, 0.2, 0.4, 0.11], None),
        Turned::ByStarter
    );
    assert_eq!(
        turned_by(&[0.2, 0.4, 0.2, 0.4, 0.09], None),
        Turned::InKicks
    );
    assert_eq!(turned_by(&[0.3; 9], KICKS), Turned::InKicks);
    assert_eq!(turned_by(&[0.31; 10], KICKS), Turned::ByStarter);
    assert_eq!(turned_by(&[0.1], STARTER), Turned::ByStarter);
    assert_eq!(turned_by(&[0.1], Some(Turned::ByHand)), Turned::ByHand);
    // Only the first of several is looked at: a kick is one however long the pauses make it.
    assert_eq!(
        turned_by(&[0.2, 0.3, 2.0, 0.2, 0.3, 2.0, 0.2], None),
        Turned::InKicks
    );
    assert_eq!(turned_by(&[], None), Turned::InKicks);
    assert_eq!(of(&[], None).turned, Turned::InKicks);
}

/// Three strokes that come 0.3 s apart and alike by a quarter are steady before they have gone on for long.
#[test]
fn alike_strokes_are_steady() {
    assert_eq!(turned_by(&[0.31, 0.31], None), Turned::ByStarter);
    assert_eq!(turned_by(&[0.29, 0.29], None), Turned::InKicks);
    assert_eq!(turned_by(&[0.31], None), Turned::InKicks, "two are too few");
    assert_eq!(turned_by(&[0.40, 0.49], None), Turned::ByStarter);
    assert_eq!(turned_by(&[0.40, 0.51], None), Turned::InKicks);
}

/// The pace tells a starter from a hand crank, and both from kicks of which one stroke is seen each.
#[test]
fn the_pace_tells_who_turns_it() {
    for (interval, who) in [
        (0.59, Turned::ByStarter),
        (0.61, Turned::ByHand),
        (0.99, Turned::ByHand),
        (1.01, Turned::InKicks),
    ] {
        assert_eq!(turned_by(&[interval; 6], None), who, "{interval}");
    }
}

/// A kick is over after 0.62 s without a stroke; one that is slow all along goes on for 2.2 times its
/// shortest interval.
#[test]
fn a_kick_is_over_after_a_pause() {
    let kicks = |pause: f64| of(&apart(&[0.3, pause, 0.3]), KICKS).seen.len();
    assert_eq!((kicks(0.61), kicks(0.63)), (1, 2));
    // In steady cranking what is within a group makes the pace: 0.5 s without the pause.
    let interval = |pause: f64| of(&apart(&[0.5, pause, 0.5, pause]), STARTER).interval;
    assert!((interval(1.09) - 0.5).abs() < 1e-9 && (interval(1.11) - 0.5).abs() < 1e-9);
    // Two strokes a group apart 1.1 s at least: steady, one chance a stroke.
    let steady = of(&apart(&[0.5, 1.2, 0.5, 1.2]), STARTER);
    assert_eq!(steady.seen.len(), 5);
    // A group ends where an interval is beyond 2.2 times the shortest: then no more than 1.3 s were seen.
    assert_eq!(turned_by(&[0.5, 1.09, 0.5], None), Turned::ByStarter);
    assert_eq!(turned_by(&[0.5, 1.11, 0.5], None), Turned::InKicks);
}

/// A chance has the time of its first stroke and the level of the one with the highest sample.
#[test]
fn a_kick_is_worth_its_best_stroke() {
    let mut strokes = apart(&[0.25, 0.25]);
    for (stroke, (level, sampled)) in
        strokes
            .iter_mut()
            .zip([(8e5, 7e5), (9.5e5, 9e5), (1.2e6, 8e5)])
    {
        (stroke.level, stroke.sampled) = (level, sampled);
    }
    let chances = of(&strokes, KICKS).seen;
    let best = Chance {
        time: 2.0,
        ended: 2.5,
        level: 9.5e5,
        sampled: 9e5,
        unseen: 0,
    };
    assert_eq!(chances, [best]);
}

/// From kick to kick, between bounds; two seconds until two were seen.
#[test]
fn the_usual_time_between_kicks_is_bounded() {
    let interval = |pause: f64| of(&apart(&[pause, pause]), KICKS).interval;
    assert_eq!(of(&apart(&[]), KICKS).interval, 2.0);
    for (pause, usual) in [(0.7, 0.8), (0.9, 0.9), (3.9, 3.9), (4.5, 4.0)] {
        assert!((interval(pause) - usual).abs() < 1e-9, "{pause}");
    }
    assert_eq!(of(&apart(&[]), STARTER).interval, 0.5);
    // Two strokes far apart are all that is known of a starter's pace.
    assert!((of(&apart(&[0.9]), STARTER).interval - 0.9).abs() < 1e-9);
    // The median of what is at most 1.6 times the shortest: a longer one holds kicks that were not seen.
    let of_three = |third: f64| of(&apart(&[1.0, 1.1, third]), KICKS).interval;
    assert!((of_three(1.59) - 1.1).abs() < 1e-9, "{}", of_three(1.59));
    assert!((of_three(1.61) - 1.05).abs() < 1e-9, "{}", of_three(1.61));
}

/// What is due counts 1.3 intervals after the last, then with each interval; between two strokes to the
/// nearest.
#[test]
fn what_is_due_counts_a_little_late() {
    let seen = |now: f64| {
        of(&at(&[2.0, 2.5, 3.0]), STARTER)
            .with_unseen(HOLDING, now)
            .seen[2]
            .unseen
    };
    for (now, unseen) in [
        (3.0, 0),
        (3.64, 0),
        (3.66, 1),
        (4.14, 1),
        (4.16, 2),
        (4.66, 3),
    ] {
        assert_eq!(seen(now), unseen, "{now}");
    }
    let between = |gap: f64| {
        let times = [2.0, 2.5, 3.0, 3.0 + gap];
        of(&at(&times), STARTER)
            .with_unseen(HOLDING, 3.0 + gap)
            .seen[2]
            .unseen
    };
    for (gap, unseen) in [(0.74, 0), (0.76, 1), (1.24, 1), (1.26, 2)] {
        assert_eq!(between(gap), unseen, "{gap}");
    }
    let following = of(&at(&[2.0, 2.5, 3.0, 9.0]), STARTER).with_unseen(Some(Rig::Following), 30.0);
    assert_eq!(made(&following.seen), 4);
    assert_eq!(
        made(&of(&at(&[2.0, 2.5]), STARTER).with_unseen(None, 30.0).seen),
        2
    );
}

/// What is below 88 % of the best so far failed, behind a check valve.
#[test]
fn what_failed_is_no_chance() {
    let levels = |levels: &[f64], rig| {
        let mut strokes = apart(&vec![0.4; levels.len() - 1]);
        for (stroke, level) in strokes.iter_mut().zip(levels) {
            stroke.level = *level;
        }
        let left = of(&strokes, STARTER).without_failed(rig).seen;
        left.iter().map(|chance| chance.level).collect::<Vec<_>>()
    };
    assert_eq!(
        levels(&[5.0, 10.0, 8.81, 8.79, 9.0], HOLDING),
        [5.0, 10.0, 8.81, 9.0]
    );
    assert_eq!(levels(&[5.0, 10.0, 8.79], None), [5.0, 10.0]);
    assert_eq!(
        levels(&[5.0, 10.0, 8.79], Some(Rig::Following)),
        [5.0, 10.0, 8.79]
    );
}

/// The kick in hand is closed when it is over, or another was due.
#[test]
fn a_kick_in_hand_is_open() {
    let kicks = of(&apart(&[0.3, 1.7, 0.3]), KICKS).with_unseen(HOLDING, 4.3);
    assert_eq!((kicks.closed(4.91).len(), kicks.closed(4.93).len()), (1, 2));
    let mut waited = kicks.clone();
    waited.seen[1].unseen = 1;
    assert_eq!(waited.closed(4.31).len(), 2);
    let steady = of(&apart(&[0.4, 0.4]), STARTER);
    assert_eq!(steady.closed(2.8).len(), 3);
    assert_eq!(of(&[], KICKS).closed(9.0).len(), 0);
}

/// When to look next: when the kick is over; when the first is due, a little late; then at each interval.
#[test]
fn the_next_look_is_when_something_changes() {
    let close = |a: f64, b: f64| (a - b).abs() < 1e-9;
    // Kicks at 2 and 4 s, two strokes each.
    let mut kicks = of(&apart(&[0.3, 1.7, 0.3]), KICKS).with_unseen(HOLDING, 4.3);
    assert!(close(kicks.next_s(HOLDING, 4.3), 4.92));
    assert!(close(kicks.next_s(HOLDING, 4.93), 4.0 + 1.3 * 2.0));
    assert!(close(kicks.next_s(Some(Rig::Following), 4.3), 4.92));
    assert_eq!(kicks.next_s(Some(Rig::Following), 4.93), f64::INFINITY);
    kicks.wait(HOLDING, 6.61);
    assert_eq!(kicks.seen[1].unseen, 1);
    // Each comes 0.3 intervals late, and is looked for again from its own time on.
    assert!(close(kicks.next_s(HOLDING, 6.61), 8.0));
    let mut steady = of(&apart(&[0.5, 0.5]), STARTER);
    assert!(close(steady.next_s(HOLDING, 3.0), 3.65));
    steady.wait(HOLDING, 4.16);
    assert!(close(steady.next_s(HOLDING, 4.16), 4.5));
    steady.wait(HOLDING, 1e4);
    assert_eq!(
        steady.next_s(HOLDING, 1e4),
        f64::INFINITY,
        "more change nothing"
    );
    assert_eq!(of(&[], STARTER).next_s(HOLDING, 1.0), f64::INFINITY);
}
