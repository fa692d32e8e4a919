//! Both sides of each limit of the call: tolerance 20 kPa at any level.

use super::*;

const TOLERANCE: f64 = 20e3;

fn chance(level: f64) -> Chance {
    Chance {
        time: 0.0,
        ended: 0.0,
        level,
        sampled: level,
        unseen: 0,
    }
}

fn seen(levels: &[f64]) -> Vec<Chance> {
    levels.iter().map(|level| chance(*level)).collect()
}

/// Levels, and after the last of them so many chances that were only due.
fn waited(levels: &[f64], unseen: u32) -> Vec<Chance> {
    let mut chances = seen(levels);
    if let Some(last) = chances.last_mut() {
        last.unseen = unseen;
    }
    chances
}

fn look_at(turned: Turned, chances: &[Chance], rig: Rig) -> Look {
    look((turned, chances), Some(rig), 0.0, |_| TOLERANCE).unwrap()
}

fn held(chances: &[Chance]) -> Look {
    look_at(Turned::ByStarter, chances, Rig::Holding)
}

#[test]
fn of_nothing_nothing_is_said() {
    assert_eq!(
        look((Turned::ByStarter, &[]), Some(Rig::Holding), 0.0, |_| {
            TOLERANCE
        }),
        None
    );
}

/// Three chances that lifted it by no more than the tolerance in all, and one before them.
#[test]
fn three_chances_within_the_tolerance_settle_it() {
    let level = |rise: f64| held(&seen(&[8e5, 1e6, 1e6 + rise, 1e6 + rise, 1e6 + rise]));
    let (just, beyond) = (level(20e3), level(20.1e3));
    assert!(just.settled && !beyond.settled, "{just:?} {beyond:?}");
    assert!((just.rise - 20e3).abs() < 1e-6 && (just.needle - 1.02e6).abs() < 1e-6);
    assert!((beyond.rise - 20.1e3).abs() < 1e-6);
    // Of which the last two are enough to rest.
    assert!(just.rests && beyond.rests);
    // Three alone are too few to settle, and enough to rest.
    let three = held(&seen(&[1e6; 3]));
    assert!(
        !three.settled && three.rests && three.chances == 3,
        "{three:?}"
    );
    assert_eq!(
        (three.rise, held(&seen(&[9.9e5, 1e6, 1e6])).rise),
        (0.0, 1e4)
    );
    let two = held(&seen(&[1e6; 2]));
    assert!(!two.settled && !two.rests);
    let four = held(&seen(&[1e6; 4]));
    assert!(four.settled && four.chances == 4);
    let last_two = |rise: f64| held(&seen(&[9e5, 1e6, 1e6 + rise, 1e6 + rise])).rests;
    assert!(last_two(20e3) && !last_two(20.5e3));
}

/// How many more that lift nothing settle it.
#[test]
fn what_is_still_to_go_is_told() {
    let to_go = |levels: &[f64]| held(&seen(levels)).to_go;
    assert_eq!(to_go(&[1e6]), Some(3));
    assert_eq!(to_go(&[5e5, 1e6]), Some(3));
    assert_eq!(to_go(&[1e6, 1e6]), Some(2));
    assert_eq!(to_go(&[5e5, 8e5, 1e6]), Some(3));
    assert_eq!(to_go(&[5e5, 8e5, 1e6, 1e6]), Some(2));
    assert_eq!(to_go(&[5e5, 8e5, 1e6, 1e6, 1e6]), Some(1));
    // Small enough in all, but not three of them.
    assert_eq!(to_go(&[5e5, 8e5, 1e6, 1.015e6]), Some(2));
}

/// What the line leaves to climb counts, even if the last chances lifted little each.
#[test]
fn a_needle_that_creeps_is_not_settled() {
    // Each lifts by 6 kPa: the line is as steep as can be, and leads far.
    let creeping: Vec<f64> = (0..14).map(|n| 1e6 + 6e3 * f64::from(n)).collect();
    let look = held(&seen(&creeping));
    assert!(
        look.rise <= TOLERANCE && look.climb.plateau - look.needle > TOLERANCE,
        "{look:?}"
    );
    assert!(!look.settled && !look.rests);
}

/// Time without a rise says nothing while the last rise was large: somebody let go.
#[test]
fn time_counts_once_rises_were_small() {
    let after = |last_rise: f64| held(&waited(&[6e5, 9e5, 1e6, 1e6 + last_rise], 9));
    // Three quarters of the tolerance.
    let (small, large) = (after(14.9e3), after(15.1e3));
    assert!(
        small.settled && small.rests && small.to_go == Some(1),
        "{small:?}"
    );
    assert!(
        !large.settled && !large.rests && large.to_go.is_none(),
        "{large:?}"
    );
    assert_eq!((small.chances, small.unseen), (13, 9));
    // Or two within the tolerance each.
    let two = |first: f64| held(&waited(&[6e5, 9e5, 9e5 + first, 9e5 + first + 19e3], 9)).settled;
    assert!(two(20e3) && !two(20.1e3));
    // The last rise is that of the last chance that lifted anything.
    let stood = |rise: f64| held(&waited(&[6e5, 6e5 + rise, 6e5 + rise], 9)).settled;
    assert!(stood(20e3) && !stood(21e3));
}

/// In kicks two must have been small, or seven made.
#[test]
fn kicks_must_have_been_small_twice() {
    let kicks = |levels: &[f64]| look_at(Turned::InKicks, &waited(levels, 9), Rig::Holding);
    assert!(!kicks(&[6e5, 9e5, 1e6, 1.01e6]).settled, "one was large");
    assert!(kicks(&[6e5, 9e5, 1e6, 1.01e6, 1.02e6]).settled);
    let many = |kicks_made: usize| {
        let levels: Vec<f64> = (1..=kicks_made)
            .map(|n| 1e6 * (1.0 - libm::pow(0.45, n as f64 * 0.5)))
            .collect();
        let mut levels = levels;
        levels.push(levels[kicks_made - 1] + 30e3);
        kicks(&levels).to_go
    };
    // With the last, which lifts by more than the tolerance, six and seven.
    assert_eq!((many(5), many(6)), (None, Some(1)));
    // By a hand crank it is as by a starter.
    assert!(
        look_at(
            Turned::ByHand,
            &waited(&[6e5, 9e5, 1e6, 1.01e6], 9),
            Rig::Holding
        )
        .settled
    );
}

/// The line is fitted to the latest twelve; the one before them is where it begins, and before the first
/// of all there is nothing.
#[test]
fn the_line_is_that_of_the_latest_levels() {
    let levels: Vec<f64> = (1..=20)
        .map(|n| 1e6 * (1.0 - libm::pow(0.8, f64::from(n))))
        .collect();
    for n in [1, 2, 11, 12, 13, 14, 20] {
        let climb = held(&seen(&levels[..n])).climb;
        let (before, latest) = if n > 12 {
            (levels[n - 13], &levels[n - 12..n])
        } else {
            (0.0, &levels[..n])
        };
        assert_eq!(Some(climb), Climb::of(latest, before, 0.0), "{n}");
        if n > 2 {
            assert!((climb.plateau / 1e6 - 1.0).abs() < 1e-9 && (climb.ratio - 0.8).abs() < 1e-9);
        }
    }
    // Doubtful levels show no steep line.
    let doubtful = look(
        (Turned::ByStarter, &seen(&levels[..5])),
        Some(Rig::Holding),
        1e6,
        |_| TOLERANCE,
    );
    assert!(doubtful.unwrap().climb.ratio < 0.1);
}

/// The tolerance is that of the needle's level.
#[test]
fn the_tolerance_goes_with_the_level() {
    let chances = seen(&[9e5, 1e6, 1e6, 1.01e6]);
    let settled = |share: f64| {
        let look = look(
            (Turned::ByStarter, &chances),
            Some(Rig::Holding),
            0.0,
            |level| share * level,
        );
        look.unwrap().rests
    };
    assert!(settled(0.0100) && !settled(0.0098));
}

/// Without a check valve every stroke is seen, and one that is far better than the others is not the needle.
#[test]
fn tops_settle_by_their_better_half() {
    let look = look_at(
        Turned::ByStarter,
        &seen(&[1e6, 1e6, 1.3e6, 1e6, 1e6, 1e6, 1e6, 1e6]),
        Rig::Following,
    );
    assert!(look.settled && (look.needle - 1e6).abs() < 1e-6, "{look:?}");
}
