//! Rounds: supply and cylinder are read in turn, quickly, and each reading of the cylinder is held
//! against the supply as it was just then.
//!
//! A regulator moves while its compressor comes and goes, by more than a small leak takes. What it
//! does between two readings lies close to the straight line between them, the closer the shorter
//! the time; what is left differs from round to round, and so its size is seen.

use super::Stage;
use super::plateau::{Bin, Ends, Plateau};
use crate::units::{Pressure, Time};

/// How far a single round is off (standard, share of the supply), where no other round tells: as
/// much as so many rounds. Own estimate, by the laboratory.
const ALONE: f64 = 0.004;
const ALONE_ROUNDS: f64 = 3.0;

/// Most readings that are kept.
const MOST_LOOKS: usize = 32;

/// One reading of one side.
#[derive(Clone, Copy, Debug)]
pub(super) struct Look {
    pub(super) stage: Stage,
    pub(super) plateau: Plateau,
    pub(super) ends: Ends,
}

/// What the rounds of a test came to.
#[derive(Clone, Copy, Debug)]
pub(super) struct Compared {
    /// How many readings of the cylinder lie between two of the supply.
    pub(super) rounds: usize,
    /// The supply beside which the cylinder held [`Self::plateau`].
    pub(super) supply: Pressure,
    /// What the cylinder held; its standard uncertainty is that beside the supply.
    pub(super) plateau: Plateau,
}

/// A reading of the cylinder over the supply just then, and that supply.
struct Round {
    ratio: f64,
    supply: f64,
    stood: f64,
}

/// Supply and cylinder at the top as they are read in turn, as long as the piston stays there under
/// air.
#[derive(Clone, Debug, Default)]
pub(super) struct Series {
    looks: Vec<Look>,
    /// The piston was at the top and has left it, or the air is off: nothing is added any more.
    closed: bool,
}

impl Series {
    /// What the cylinder came to at the top when it was read first; none where a test is not in rounds.
    pub(super) fn at_top(&self) -> Option<Plateau> {
        let first = self.looks.iter().find(|look| look.stage == Stage::Top);
        first.filter(|_| !self.closed).map(|look| look.plateau)
    }

    /// Whether this stage is the other side of a round: the valve is being turned then.
    pub(super) fn turns_to(&self, stage: Stage) -> bool {
        let last = self.looks.last().map(|look| look.stage);
        let other = match stage {
            Stage::Supply => last == Some(Stage::Top),
            Stage::Top => last == Some(Stage::Supply),
            _ => false,
        };
        other && self.at_top().is_some()
    }

    /// Takes what a stage came to.
    pub(super) fn keep(&mut self, stage: Stage, look: Option<Look>) {
        let stays = matches!(stage, Stage::Supply | Stage::Top);
        if !stays {
            self.closed |= self.at_top().is_some();
        }
        if self.closed {
            return;
        }
        if !stays {
            self.looks.clear();
        } else if self.looks.len() < MOST_LOOKS {
            self.looks.extend(look);
        }
    }

    /// What they come to, with the reading under way; see [`compared`].
    pub(super) fn compared(&self, look: Option<Look>, own: f64) -> Option<Compared> {
        let looks: Vec<Look> = self.looks.iter().copied().chain(look).collect();
        compared(&looks, own)
    }
}

/// Compares each reading of the cylinder with those of the supply directly before and after it; what
/// is left of the sensor's own errors (standard, Pa) is common to all of them. None where no reading
/// has both.
fn compared(looks: &[Look], own: f64) -> Option<Compared> {
    let rounds: Vec<Round> = looks.windows(3).filter_map(round).collect();
    let first = looks.iter().find(|look| look.stage == Stage::Top)?;
    let n = rounds.len() as f64;
    let mean = |of: fn(&Round) -> f64| rounds.iter().map(of).sum::<f64>() / n;
    let (ratio, supply) = (mean(|round| round.ratio), mean(|round| round.supply));
    if rounds.is_empty() || supply <= 0.0 {
        return None;
    }
    let squares: f64 = rounds
        .iter()
        .map(|r| (r.ratio - ratio) * (r.ratio - ratio))
        .sum();
    let known = ALONE_ROUNDS + n - 1.0;
    let of_one = libm::sqrt((ALONE_ROUNDS * ALONE * ALONE + squares) / known);
    let standard = libm::hypot(supply * of_one * few(known) / libm::sqrt(n), own);
    let stood: f64 = rounds.iter().map(|round| round.stood).sum();
    Some(Compared {
        rounds: rounds.len(),
        supply: Pressure::from_pa(supply),
        plateau: Plateau {
            level: Pressure::from_pa(supply * ratio),
            standard: Pressure::from_pa(standard),
            stood: Time::from_s(stood),
            ..first.plateau
        },
    })
}

/// The cylinder between two readings of the supply. Both its ends are compared, each with the straight
/// line between the supply's last end before and its first end after.
fn round(looks: &[Look]) -> Option<Round> {
    let [before, cylinder, after] = looks else {
        return None;
    };
    let stages = (before.stage, cylinder.stage, after.stage);
    if stages != (Stage::Supply, Stage::Top, Stage::Supply) {
        return None;
    }
    let (from, to) = (before.ends.last, after.ends.first);
    let supply = |at: f64| from.mean + (to.mean - from.mean) * (at - from.at) / (to.at - from.at);
    let over = |end: Bin| end.mean / supply(end.at);
    let ends = cylinder.ends;
    let ratio = 0.5 * (over(ends.first) + over(ends.last));
    let supply = 0.5 * (supply(ends.first.at) + supply(ends.last.at));
    ratio.is_finite().then_some(Round {
        ratio,
        supply,
        stood: cylinder.plateau.stood.s(),
    })
}

/// Student's factor for 95 % over the normal one, for so many degrees of freedom: the first terms of
/// its series (Abramowitz and Stegun, Handbook of Mathematical Functions, 26.7.5).
fn few(freedom: f64) -> f64 {
    1.0 + 1.21 / freedom + 1.44 / (freedom * freedom)
}
