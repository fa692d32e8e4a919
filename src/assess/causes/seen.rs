//! What is seen of each cylinder, as logarithms of pressure ratios: its level, and what oil did.

use super::odds;
use crate::assess::air;
use crate::assess::case::{Case, Entry};
use crate::assess::level::expected_for;
use crate::assess::oil::oiled;
use crate::engine::Condition;
use crate::engine::expected::{Basis, TightModel};
use crate::leakdown::Place;
use crate::signal::Flag;

/// All that is seen in a visit.
#[derive(Clone, Debug)]
pub(super) struct Seen {
    /// Cylinders with a dry reading.
    pub cylinders: Vec<Cylinder>,
    /// Standard doubt that all levels share: that of the expectation.
    pub doubt: f64,
    /// Levels are over what the card predicts; otherwise over the best of them.
    pub expected: bool,
    /// Places in [`Self::cylinders`] of those that lie side by side.
    pub pairs: Vec<(usize, usize)>,
    /// Whether a held reading fell by itself.
    pub falls: bool,
}

/// A cylinder.
#[derive(Clone, Copy, Debug)]
pub(super) struct Cylinder {
    /// Its place in the case.
    pub at: usize,
    pub level: f64,
    /// Standard doubt of the level beside the other cylinders.
    pub doubt: f64,
    pub oil: Option<Oil>,
    pub heard: Heard,
}

/// How likely it is to hear air where it was heard, if this leaks; all alike if nobody listened.
#[derive(Clone, Copy, Debug)]
pub(super) struct Heard {
    pub sound: f64,
    pub rings: f64,
    pub intake: f64,
    pub exhaust: f64,
    pub gasket: f64,
}

impl Heard {
    /// Nobody listened.
    pub(super) const NOTHING: Self = Self {
        sound: 1.0,
        rings: 1.0,
        intake: 1.0,
        exhaust: 1.0,
        gasket: 1.0,
    };

    fn at(place: Place, two_stroke: bool) -> Self {
        let right = |wanted: Place| {
            if place == wanted {
                odds::HEARD_RIGHT
            } else if place == Place::Nowhere {
                odds::HEARD_NOWHERE
            } else {
                odds::HEARD_ELSEWHERE
            }
        };
        let (next, coolant, little, rest) = odds::HEARD_GASKET;
        Self {
            sound: match place {
                _ if two_stroke => at_crankcase(place, odds::HEARD_SOUND_CRANKCASE),
                Place::Breather => odds::HEARD_SOUND.0,
                Place::Nowhere => odds::HEARD_SOUND.1,
                _ => odds::HEARD_SOUND.2,
            },
            rings: if two_stroke {
                at_crankcase(place, odds::HEARD_CRANKCASE)
            } else {
                right(Place::Breather)
            },
            intake: right(Place::Intake),
            exhaust: right(Place::Exhaust),
            gasket: match place {
                Place::NextHole => next,
                Place::Coolant => coolant,
                Place::Breather | Place::Nowhere => little,
                _ => rest,
            },
        }
    }
}

/// How often air from a two-stroke's crankcase is heard at this place: at the carburettor, at the exhaust,
/// nowhere, elsewhere. It has no breather; where one was named, it is a way out of the crankcase too.
const fn at_crankcase(place: Place, (carburettor, port, silent, odd): (f64, f64, f64, f64)) -> f64 {
    match place {
        Place::Intake | Place::Breather => carburettor,
        Place::Exhaust => port,
        Place::Nowhere => silent,
        Place::Coolant | Place::NextHole => odd,
    }
}

/// What oil did to a cylinder, beyond what its volume explains.
#[derive(Clone, Copy, Debug)]
pub(super) struct Oil {
    pub change: f64,
    pub doubt: f64,
    /// What it would be if all that leaks leaks past the rings.
    pub if_rings: f64,
    /// The change beside that of a cylinder that reads well and was oiled as well.
    pub beside: Option<f64>,
}

/// Looks at every cylinder; none of it without a dry reading, or where one reading stands alone
/// and nothing is expected of it.
pub(super) fn look(case: &Case<'_>) -> Option<Seen> {
    let condition = case.dry?;
    let mut readings = case.of(condition);
    readings.retain(|(_, entry)| entry.value.pa() > 0.0);
    let expected: Option<Vec<(f64, f64)>> = readings
        .iter()
        .map(|(_, entry)| should_read(case, condition, entry))
        .collect();
    let expected = expected.filter(|all| !all.is_empty());
    if readings.is_empty() || expected.is_none() && readings.len() < 2 {
        return None;
    }
    let logs: Vec<f64> = readings.iter().map(|(_, entry)| level(entry)).collect();
    let best = logs.iter().copied().fold(f64::MIN, f64::max);
    let over = |n: usize| expected.as_ref().map_or(best, |all| all[n].0);
    let mut cylinders: Vec<Cylinder> = readings
        .iter()
        .enumerate()
        .map(|(n, (at, entry))| Cylinder {
            at: *at,
            level: logs[n] - over(n),
            doubt: libm::hypot(own_doubt(entry), odds::SOUND_DIFFER),
            oil: None,
            heard: heard(case, *at),
        })
        .collect();
    oil(case, expected.is_some(), &mut cylinders);
    let doubt = expected.as_ref().map_or(odds::NOTHING_EXPECTED, |all| {
        let mean = all.iter().map(|(_, doubt)| doubt).sum::<f64>() / all.len() as f64;
        mean.max(odds::LEAST_DOUBT)
    });
    Some(Seen {
        doubt,
        expected: expected.is_some(),
        pairs: pairs(case, &cylinders),
        falls: falls(case),
        cylinders,
    })
}

fn heard(case: &Case<'_>, at: usize) -> Heard {
    let Some(aired) = case.aired(at) else {
        return Heard::NOTHING;
    };
    let Some(place) = aired.heard.first() else {
        return Heard::NOTHING;
    };
    let mut heard = Heard::at(*place, case.kind.is_two_stroke());
    let bore = case.card.and_then(|card| card.engine.bore_mm);
    if let Some((leak, bore_mm)) = aired.held.leak.zip(bore) {
        let healthy = TightModel::shipped().healthy_leak_mm2_per_mm * bore_mm;
        if leak.low_mm2 > odds::NO_SOUND_LEAK * healthy {
            heard.sound *= odds::SOUND_YET;
        }
    }
    heard
}

/// Where the needle is, or half way to where it was heading.
fn level(entry: &Entry<'_>) -> f64 {
    let heading = entry.result.reading.as_ref().and_then(|r| r.heading);
    let on = heading.map_or(entry.value, |heading| {
        (entry.value + heading.max(entry.value)) * 0.5
    });
    libm::log(on.pa())
}

fn own_doubt(entry: &Entry<'_>) -> f64 {
    let left = level(entry) - libm::log(entry.value.pa());
    libm::hypot(entry.relative / entry.value, left)
}

/// Logarithm of what the card predicts of a reading, and its standard doubt.
fn should_read(case: &Case<'_>, condition: Condition, entry: &Entry<'_>) -> Option<(f64, f64)> {
    let expected = expected_for(case, condition, entry)?;
    let usable = expected.basis != Basis::RatioOnly && expected.likely.pa() > 0.0;
    usable.then(|| {
        (
            libm::log(expected.likely.pa()),
            expected.standard / expected.likely,
        )
    })
}

/// What oil did to each, beside a control where there is one.
fn oil(case: &Case<'_>, expected: bool, cylinders: &mut [Cylinder]) {
    let best = best(cylinders);
    let least = best + odds::CONTROL_FROM;
    let least = if expected {
        least.max(odds::CONTROL_OF_EXPECTED)
    } else {
        least
    };
    let changes: Vec<Option<Oil>> = cylinders
        .iter()
        .map(|cylinder| {
            let oiled = oiled(case, cylinder.at)?;
            let by_loss = odds::OIL_GIVES_BACK * (best - cylinder.level);
            let (if_rings, doubt) = oiled
                .modelled
                .map_or((by_loss, 0.04), |m| (m.if_rings, m.standard));
            Some(Oil {
                change: oiled.beyond,
                doubt,
                if_rings: if_rings.max(0.01),
                beside: None,
            })
        })
        .collect();
    for n in 0..cylinders.len() {
        let mut controls: Vec<f64> = (0..cylinders.len())
            .filter(|other| *other != n && cylinders[*other].level >= least)
            .filter_map(|other| Some(changes[other]?.change))
            .collect();
        controls.sort_by(f64::total_cmp);
        let control = controls.get(controls.len() / 2).copied();
        cylinders[n].oil = changes[n].map(|oil| Oil {
            beside: control.map(|control| oil.change - control),
            ..oil
        });
    }
}

/// Level of the best cylinder.
pub(super) fn best(cylinders: &[Cylinder]) -> f64 {
    let levels = cylinders.iter().map(|cylinder| cylinder.level);
    levels.fold(f64::MIN, f64::max)
}

fn pairs(case: &Case<'_>, cylinders: &[Cylinder]) -> Vec<(usize, usize)> {
    let beside = |a: usize, b: usize| {
        let neighbours = case.cylinders.get(a).map(|c| c.neighbours.as_slice());
        neighbours.is_some_and(|all| all.contains(&b))
    };
    let mut pairs = Vec::new();
    for (n, a) in cylinders.iter().enumerate() {
        for (m, b) in cylinders.iter().enumerate().skip(n + 1) {
            if beside(a.at, b.at) {
                pairs.push((n, m));
            }
        }
    }
    pairs
}

fn falls(case: &Case<'_>) -> bool {
    if let Some(tight) = air::tester_is_tight(case.air) {
        return !tight;
    }
    let runs = case.cylinders.iter().flat_map(|c| c.entries.values());
    runs.flat_map(|entry| &entry.result.flags)
        .any(|flag| matches!(flag, Flag::TesterLeaks { .. }))
}

/// The lower of a cylinder's neighbours, as a place in the case.
pub(super) fn neighbour(case: &Case<'_>, seen: &Seen, n: usize) -> Option<usize> {
    let others = seen
        .pairs
        .iter()
        .filter_map(|(a, b)| match (*a == n, *b == n) {
            (true, _) => Some(*b),
            (_, true) => Some(*a),
            _ => None,
        });
    let level = |m: &usize| seen.cylinders[*m].level;
    let lowest = others.min_by(|a, b| level(a).total_cmp(&level(b)))?;
    let at = seen.cylinders[lowest].at;
    case.dry_entry(at).map(|_| at)
}

#[cfg(test)]
mod tests;
