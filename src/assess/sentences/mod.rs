//! What is said, in words: the one place where [`Saying`]s become sentences, in the units that are
//! asked for.

mod air;
mod causes;
mod corrections;
mod flags;
mod gaps;
mod history;
mod notes;
mod repairs;
mod rules;
mod shown;
mod steps;
mod verdict;

use super::changed::History;
use super::results::Assessment;
use super::saying::Saying;
use crate::engine::Display;
pub use flags::{Advice, flag};
use shown::Units;
pub use shown::many;

impl Assessment<Saying> {
    /// In words, with pressures in these units.
    pub fn said(self, units: Display) -> Assessment {
        self.map(&|saying| say(&saying, units))
    }
}

impl History<Saying> {
    /// In words, with pressures in these units.
    pub fn said(self, units: Display) -> History {
        self.map(&|saying| say(&saying, units))
    }
}

/// A sentence (of a repair or a basis: a part of one), with pressures in these units.
pub fn say(saying: &Saying, units: Display) -> String {
    let units = Units(units);
    match saying {
        Saying::Verdict(ruling) => verdict::ruling(ruling, units),
        Saying::Rule(applied, judgement) => rules::applied(applied, *judgement, units),
        Saying::Disagreement { passed, failed } => rules::disagreement(passed, failed),
        Saying::Correction { like, factor } => corrections::correction(like, *factor, units),
        Saying::LeakDown {
            cylinder,
            found,
            cranked,
            agrees,
        } => air::beside_cranking(cylinder, *found, *cranked, *agrees),
        Saying::Basis(basis) => corrections::basis(*basis).to_owned(),
        Saying::Cause(suspicion) => causes::suspicion(suspicion),
        Saying::Evidence { sign, falls } => causes::sign(sign, *falls),
        Saying::Repair(repair) => repairs::repair(*repair).to_owned(),
        Saying::Allowance {
            expected,
            currency,
            missing,
        } => repairs::allowance(*expected, currency, missing),
        Saying::Note(note) => notes::note(note, units),
        Saying::Gap(gap) => gaps::gap(gap),
        Saying::NextStep(step) => steps::step(step),
        Saying::Between(between) => history::between(between),
        Saying::Moved(moved) => history::moved(moved, units),
        Saying::Uncompared(uncompared) => history::uncompared(uncompared),
    }
}
