//! What a cylinder holds, beside the supply.

use super::results::Held;
use super::rounds::Compared;
use super::{Leak, Plateau, Restrictor, Sides, Stage};
use crate::engine::Condition;
use crate::units::Pressure;

/// How far a regulator is off its own mean (relative, standard), where it was not watched: it moves by
/// some 2 % to either side while its compressor comes and goes. Common practice, no source.
const UNSEEN: f64 = 0.0055;
/// So long (s) a look at it must be to be news of its own.
const LOOK_S: f64 = 10.0;
/// The supply moved by more than this share.
const MOVED: f64 = 0.04;
/// A leak is told well when it is known to this share of itself, to either side: a tenth is wanted, and
/// a restrictor that nobody measured leaves 0.08 open.
const WELL: f64 = 0.09;
/// Or when the supply adds no more than this share to what restrictor, hose and gas leave open.
const ADDS: f64 = 0.1;
/// A leak that is so small a share of the restrictor is lost in quick noise, however often it is read.
/// Own estimate, by the laboratory.
const LOST: f64 = 0.15;

/// The supply of a leak-down test as it was read so far, and what makes a leak of two pressures.
pub(super) struct Beside<'a> {
    pub(super) supply: &'a [Plateau],
    pub(super) restrictor: &'a Restrictor,
    pub(super) condition: Condition,
    pub(super) ambient_absolute: Pressure,
}

impl Beside<'_> {
    /// The supply: the mean of its plateaus.
    pub(super) fn level(&self) -> Option<Pressure> {
        let levels = self.supply.iter().map(|plateau| plateau.level);
        let sum = levels.fold(Pressure::ZERO, |sum, level| sum + level);
        (!self.supply.is_empty()).then(|| sum * (1.0 / self.supply.len() as f64))
    }

    fn ends(&self) -> Option<(Pressure, Pressure)> {
        let (first, last) = self.supply.first().zip(self.supply.last())?;
        Some((first.level, last.level))
    }

    /// Whether the supply was another one afterwards than before.
    pub(super) fn moved(&self) -> bool {
        self.ends()
            .is_some_and(|(first, last)| (last - first).abs() > first.abs() * MOVED)
    }

    /// Standard uncertainty of the supply while this plateau stood: nobody sees it then. How much it
    /// moves is what was seen of it, the more the longer it was, and else what regulators do; long
    /// looks at supply and cylinder average over it.
    fn standard(&self, level: Pressure, beside: Plateau) -> Pressure {
        let moves = UNSEEN * level.pa();
        let (mut weight, mut squares, mut looks) = (1.0, moves * moves, 0.0);
        for plateau in self.supply {
            let news = plateau.stood.s() / LOOK_S;
            let spread = plateau.standard.pa() * libm::sqrt(plateau.news());
            weight += news;
            squares += news * spread * spread;
            looks += news.max(1.0);
        }
        let here = (beside.stood.s() / LOOK_S).max(1.0);
        let standard = libm::sqrt(squares / weight * (1.0 / here + 1.0 / looks.max(1.0)));
        let ends = self.ends();
        let ends = ends.map_or(0.0, |(first, last)| (last - first).pa());
        Pressure::from_pa(standard.max(0.5 * ends.abs()))
    }

    /// What a plateau of the connected cylinder comes to beside the supply as known so far.
    pub(super) fn held(&self, stage: Stage, plateau: Plateau) -> Option<Held> {
        let supply = self.level()?;
        if !stage.is_connected() || supply <= Pressure::ZERO {
            return None;
        }
        let sides = Sides {
            supply,
            supply_standard: self.standard(supply, plateau),
            cylinder: plateau.level,
            cylinder_standard: plateau.standard,
            ambient_absolute: self.ambient_absolute,
        };
        Some(self.between(stage, plateau, &sides, 0))
    }

    /// What rounds at the top came to.
    pub(super) fn compared(&self, compared: &Compared) -> Held {
        let plateau = compared.plateau;
        let sides = Sides {
            supply: compared.supply,
            supply_standard: Pressure::ZERO,
            cylinder: plateau.level,
            cylinder_standard: plateau.standard,
            ambient_absolute: self.ambient_absolute,
        };
        self.between(Stage::Top, plateau, &sides, compared.rounds)
    }

    fn between(&self, stage: Stage, plateau: Plateau, sides: &Sides, rounds: usize) -> Held {
        Held {
            stage,
            supply: sides.supply,
            plateau,
            loss: sides.loss(),
            loss_expanded: 2.0 * sides.loss_standard(),
            leak: Leak::between(sides, self.restrictor, self.condition),
            rounds,
        }
    }

    /// How well the leak is known so far, to either side as a share of itself, where that is not well
    /// because of the supply and reading both sides in turn would make it better. None where it is
    /// known well, where another restrictor is the remedy, or where nothing is.
    pub(super) fn blurred(&self, held: &Held) -> Option<f64> {
        let leak = held.leak.filter(|leak| leak.mm2 > 0.0)?;
        let known = leak.known_to()?;
        let lost = leak.mm2 < LOST * self.restrictor.effective_mm2();
        if lost || leak.better_mm(self.restrictor).is_some() {
            return None;
        }
        let sharp = Sides {
            supply: held.supply,
            supply_standard: Pressure::ZERO,
            cylinder: held.plateau.level,
            cylinder_standard: Pressure::ZERO,
            ambient_absolute: self.ambient_absolute,
        };
        let at_best = Leak::between(&sharp, self.restrictor, self.condition)?.known_to()?;
        (known > WELL.max((1.0 + ADDS) * at_best)).then_some(known)
    }
}
