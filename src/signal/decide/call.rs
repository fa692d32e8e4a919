//! The call: has the needle stopped climbing?
//!
//! STOP when the last [`CHANCES`] chances to climb lifted the needle by no more than the tolerance,
//! and the line along which it climbs leaves no more than that. A chance is a stroke, or a whole
//! kick or pull. Behind a check valve one that lifts nothing leaves no trace, so the time in which
//! it was due counts too; but only after rises had been seen that had come down to the size of the
//! tolerance. A needle that stands still after a large rise means that somebody let go.

use crate::signal::build_up::climb::Climb;
use crate::signal::build_up::{Chance, Turned, chances, needle};
use crate::signal::results::Rig;
use crate::signal::tuned::{CHANCES, FEWEST, LOOKED_AT, MANY_KICKS, SMALL};

/// What a look at the chances so far says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Look {
    pub(crate) turned: Turned,
    /// The needle.
    pub(crate) needle: f64,
    /// By how much the last [`CHANCES`] lifted it, or all of fewer after the first.
    pub(crate) rise: f64,
    /// Where it leads to.
    pub(crate) climb: Climb,
    /// Stop.
    pub(crate) settled: bool,
    /// The last two chances lifted it by no more than the tolerance.
    pub(crate) rests: bool,
    /// Chances so far, and how many of the last ones were only due.
    pub(crate) chances: u32,
    pub(crate) unseen: u32,
    /// How many more that lift nothing settle it; none where a rise must be seen first.
    pub(crate) to_go: Option<u32>,
}

/// Looks at the chances up to now, in an engine turned so; none before the first. `doubt` is the standard uncertainty of a
/// level, `tolerance` by how much a needle at some level may still rise.
pub(crate) fn look(
    (turned, seen): (Turned, &[Chance]),
    rig: Option<Rig>,
    doubt: f64,
    tolerance: impl Fn(f64) -> f64,
) -> Option<Look> {
    let levels = Levels {
        latest: needle::after_latest(seen, rig, LOOKED_AT + 1),
        made: chances::made(seen),
    };
    let needle = levels.before(0);
    let tolerance = tolerance(needle);
    let climb = levels.climb(doubt)?;
    let rise_of_last = |n| needle - levels.before(n);
    let unseen = seen.last()?.unseen;
    let before = levels.made - unseen as usize;
    let time_counts = unseen == 0 || may_wait((turned, seen), before, rig, tolerance);
    let little_left = climb.plateau - needle <= tolerance && time_counts;
    let to_go = (1..=CHANCES)
        .find(|more| rise_of_last(CHANCES - more) <= tolerance && levels.made + more >= FEWEST);
    Some(Look {
        turned,
        needle,
        rise: rise_of_last(CHANCES.min(levels.made - 1)),
        climb,
        settled: levels.made >= FEWEST && rise_of_last(CHANCES) <= tolerance && little_left,
        rests: levels.made >= CHANCES && rise_of_last(2) <= tolerance && little_left,
        chances: levels.made as u32,
        unseen,
        to_go: to_go.filter(|_| time_counts).map(|more| more as u32),
    })
}

/// The needle after each of the latest chances.
struct Levels {
    latest: Vec<f64>,
    made: usize,
}

impl Levels {
    /// The needle before the last `n` chances; nothing before the first one.
    fn before(&self, n: usize) -> f64 {
        let at = self.latest.len().checked_sub(n + 1);
        at.and_then(|at| self.latest.get(at).copied())
            .unwrap_or(0.0)
    }

    fn climb(&self, doubt: f64) -> Option<Climb> {
        match self.latest.split_first() {
            Some((before, levels)) if self.made > LOOKED_AT => Climb::of(levels, *before, doubt),
            _ => Climb::of(&self.latest, 0.0, doubt),
        }
    }
}

/// Whether time without a rise shows that the needle has stopped, not that somebody let go: the
/// rises seen had come down. Cranked steadily they come down one by one; kicks differ, so that two
/// of them must have been small. `before`: chances before that time.
fn may_wait(
    (turned, seen): (Turned, &[Chance]),
    before: usize,
    rig: Option<Rig>,
    tolerance: f64,
) -> bool {
    let unbroken = seen.iter().map(|chance| Chance {
        unseen: 0,
        ..*chance
    });
    let levels = needle::after_latest(&unbroken.collect::<Vec<_>>(), rig, LOOKED_AT);
    let rises: Vec<f64> = levels.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let last_two = rises.len() > 1 && rises.iter().rev().take(2).all(|rise| *rise <= tolerance);
    let last_lift = rises.iter().rev().find(|rise| **rise > 0.0);
    match turned {
        Turned::InKicks => last_two || before >= MANY_KICKS,
        Turned::ByStarter | Turned::ByHand => {
            last_two || last_lift.is_some_and(|rise| *rise <= SMALL * tolerance)
        }
    }
}

#[cfg(test)]
mod tests;
