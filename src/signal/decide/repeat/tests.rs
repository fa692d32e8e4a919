//! What each way of turning leaves in doubt, by hand.

use super::*;
use crate::signal::build_up::Chance;
use crate::signal::build_up::climb::Climb;
use crate::signal::outside::alike;

const AT: f64 = 1e6;

/// A needle of 1000 kPa, which the last chances lifted by 8 kPa, and which would climb by 3 kPa yet.
fn look(settled: bool, rests: bool) -> Look {
    Look {
        turned: Turned::ByStarter,
        needle: AT,
        rise: 8e3,
        climb: Climb {
            ratio: 0.4,
            ratio_standard: 0.1,
            plateau: AT + 3e3,
        },
        settled,
        rests,
        chances: 6,
        unseen: 0,
        to_go: None,
    }
}

fn chances(turned: Turned, levels: &[f64]) -> Chances {
    let seen = levels.iter().map(|level| Chance {
        time: 0.0,
        ended: 0.0,
        level: *level,
        sampled: *level,
        unseen: 0,
    });
    Chances {
        turned,
        interval: 1.0,
        seen: seen.collect(),
    }
}

/// Rises of 3e5, 9e4, 5e4 and 2e4 Pa after the first: the third of them and later ones are late.
const LEVELS: [f64; 5] = [5e5, 8e5, 8.9e5, 9.4e5, 9.6e5];

#[test]
fn behind_a_check_valve_each_way_of_turning_has_its_own() {
    let told = |turned| {
        standard(
            &look(false, false),
            &chances(turned, &LEVELS),
            Some(Rig::Holding),
        )
    };
    alike(told(Turned::ByStarter), 3e3, 1e-9, "a starter's 0.3 %");
    let by_hand = libm::hypot(3e3, 4e3 + 0.2 * 5e4);
    alike(
        told(Turned::ByHand),
        by_hand,
        1e-9,
        "0.4 %, and a fifth of the largest late rise",
    );
    let in_kicks = libm::hypot(3e3, 1.25e4 + 0.2 * 5e4);
    alike(
        told(Turned::InKicks),
        in_kicks,
        1e-9,
        "1.25 %, and a fifth of the largest late rise",
    );
    // Early rises are no scatter.
    let early = chances(Turned::InKicks, &LEVELS[..3]);
    let told = standard(&look(false, false), &early, Some(Rig::Holding));
    alike(told, libm::hypot(3e3, 1.25e4), 1e-9, "three kicks");
}

/// Somebody who stops a little sooner or later: half of what the last chances lifted it by, and what is left.
#[test]
fn what_is_left_counts_once_it_rests() {
    let told = |settled, rests, rig| {
        standard(
            &look(settled, rests),
            &chances(Turned::ByStarter, &[AT; 4]),
            rig,
        )
    };
    let left = libm::hypot(3e3, 7e3);
    alike(told(true, false, Some(Rig::Holding)), left, 1e-9, "settled");
    alike(told(false, true, Some(Rig::Holding)), left, 1e-9, "rests");
    alike(told(false, false, Some(Rig::Holding)), 3e3, 1e-9, "climbs");
    // Without a check valve tops do not climb towards a level that somebody could stop short of.
    alike(told(true, true, Some(Rig::Following)), 3e3, 1e-9, "follows");
}

/// The better half of eight tops is four: 1004, 1006, 1010 and 1012 kPa, mean 1008, squares 16 + 4 + 4 + 16.
#[test]
fn tops_that_differ_are_doubtful_by_their_standard_error() {
    let tops = [9e5, 9.1e5, 9.2e5, 9.3e5, 1.004e6, 1.006e6, 1.010e6, 1.012e6];
    let told = |turned| {
        standard(
            &look(true, true),
            &chances(turned, &tops),
            Some(Rig::Following),
        )
    };
    let error = (40e6_f64 / 3.0 / 4.0).sqrt() * 1.5;
    alike(
        told(Turned::ByStarter),
        libm::hypot(3e3, error),
        1e-9,
        "a starter",
    );
    for turned in [Turned::ByHand, Turned::InKicks] {
        alike(
            told(turned),
            libm::hypot(3e3, 1.9 * error),
            1e-9,
            "an arm or a leg",
        );
    }
    // Of one there is no spread.
    let one = chances(Turned::InKicks, &tops[..1]);
    let told = standard(&look(true, true), &one, Some(Rig::Following));
    alike(told, 3e3, 1e-9, "one kick");
}
