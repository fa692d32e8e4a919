//! Evidence for and against a cause. A piece of it is weighed by how much the odds of the cause would
//! be other had it not been seen, and by how much they would be had nothing else been seen.

use super::seen::{Heard, Seen};
use super::weigh::{Possible, Probabilities, weigh};
use super::{odds, seen};
use crate::assess::case::Case;
use crate::assess::change::{dry_beside_wet, wet_gain};
use crate::assess::results::{CauseKind, Evidence, Sign};
use crate::assess::saying::Saying;

/// Evidence is named where leaving it out would change the odds of the cause by this factor:
/// natural logarithm of 1.5.
const TELLING: f64 = 0.405_465_108_108_164_4;

/// A sign, and what the causes would be without it and by it alone.
pub(super) struct Weight {
    sign: Sign,
    without: Probabilities,
    alone: Option<Probabilities>,
}

/// Every sign that was seen of a cylinder, and what its causes are by none of them.
pub(super) struct Weights {
    signs: Vec<Weight>,
    by_none: Probabilities,
}

/// Weighs every sign that was seen of a cylinder.
pub(super) fn weights(case: &Case<'_>, seen: &Seen, possible: Possible, n: usize) -> Weights {
    let by = |rest: &Seen, n: usize| {
        let mut all = weigh(rest, possible);
        if n < all.len() {
            all.swap_remove(n)
        } else {
            Probabilities::new()
        }
    };
    let dry = without_oil(seen, n);
    let single = alone(seen, n);
    let mute = without_heard(&single, 0);
    let mut signs = Vec::new();
    let mut add = |sign: Option<Sign>, without: (Seen, usize), only: Option<(Seen, usize)>| {
        signs.extend(sign.map(|sign| Weight {
            sign,
            without: by(&without.0, without.1),
            alone: only.map(|(seen, n)| by(&seen, n)),
        }));
    };
    let only_expected = (without_oil(&mute, 0), 0);
    add(
        expected(case, seen, n),
        (unexpected(seen), n),
        Some(only_expected),
    );
    let only_others = (without_heard(&without_pairs(&unexpected(&dry)), n), n);
    add(
        others(case, seen, n),
        (single.clone(), 0),
        Some(only_others),
    );
    add(beside(case, seen, n), (without_pairs(seen), n), None);
    add(oil(case, seen, n), (dry, n), Some((unexpected(&mute), 0)));
    add(
        seen.falls.then_some(Sign::HeldFalls {}),
        (standing(seen), n),
        None,
    );
    let unheard = without_heard(seen, n);
    add(
        heard(case, seen, n),
        (unheard, n),
        Some((unexpected(&without_oil(&single, 0)), 0)),
    );
    let bare = without_heard(&without_oil(&unexpected(&single), 0), 0);
    Weights {
        by_none: by(&bare, 0),
        signs,
    }
}

/// What speaks for a cause and against it, the weightiest first. A sign weighs what leaving it out
/// changes; one that speaks for the cause may say the same as another, and weighs what it says alone.
pub(super) fn weighed(
    case: &Case<'_>,
    at: usize,
    kind: CauseKind,
    with: &Probabilities,
    weights: &Weights,
) -> (Vec<Evidence<Saying>>, Vec<Evidence<Saying>>) {
    let odds = |all: &Probabilities| {
        let one = |kind: CauseKind| all.get(&kind).copied().unwrap_or(0.0);
        log_odds(match kind {
            CauseKind::RingsOrValve => one(CauseKind::Rings) + one(CauseKind::Valve),
            kind => one(kind),
        })
    };
    let weight = |weight: &Weight| {
        let left_out = odds(with) - odds(&weight.without);
        let alone = weight.alone.as_ref();
        let alone = alone.map_or(0.0, |alone| odds(alone) - odds(&weights.by_none));
        // What speaks against a cause does so beside all the rest, or it is none.
        if left_out <= -TELLING {
            left_out
        } else {
            left_out.max(alone)
        }
    };
    let signs = weights.signs.iter();
    let mut weighed: Vec<(f64, &Sign)> = signs
        .filter(|one| one.sign.concerns(kind))
        .map(|one| (weight(one), &one.sign))
        .filter(|(weight, _)| weight.is_finite() && weight.abs() >= TELLING)
        .collect();
    weighed.sort_by(|a, b| b.0.abs().total_cmp(&a.0.abs()));
    let (speaks_for, speaks_against): (Vec<_>, Vec<_>) =
        weighed.into_iter().partition(|(weight, _)| *weight > 0.0);
    let falls = falls(case, at);
    let said = |list: Vec<(f64, &Sign)>| {
        list.into_iter()
            .map(|(_, sign)| Evidence {
                text: Saying::Evidence {
                    sign: sign.clone(),
                    falls,
                },
                sign: sign.clone(),
            })
            .collect()
    };
    (said(speaks_for), said(speaks_against))
}

/// By what share of the reading a held one falls in a second.
fn falls(case: &Case<'_>, at: usize) -> Option<f64> {
    let entry = case.dry_entry(at)?;
    let share = entry.result.droop.as_ref()?.per_second / entry.value;
    (share > 0.0).then_some(share)
}

/// Logarithm of the odds, within what a model can know.
fn log_odds(probability: f64) -> f64 {
    let p = probability.clamp(1e-4, 1.0 - 1e-4);
    libm::log(p / (1.0 - p))
}

fn expected(case: &Case<'_>, seen: &Seen, n: usize) -> Option<Sign> {
    let cylinder = seen.cylinders.get(n)?;
    seen.expected.then(|| Sign::OfExpected {
        cylinder: case.name(cylinder.at).to_owned(),
        share: libm::exp(cylinder.level),
        best_share: libm::exp(seen::best(&seen.cylinders)),
    })
}

fn others(case: &Case<'_>, seen: &Seen, n: usize) -> Option<Sign> {
    let own = seen.cylinders.get(n)?;
    let others = seen.cylinders.iter().enumerate().filter(|(m, _)| *m != n);
    let best = others
        .map(|(_, cylinder)| cylinder.level)
        .max_by(f64::total_cmp)?;
    Some(Sign::OfOthers {
        cylinder: case.name(own.at).to_owned(),
        share: libm::exp(own.level - best),
    })
}

fn beside(case: &Case<'_>, seen: &Seen, n: usize) -> Option<Sign> {
    let own = seen.cylinders.get(n)?;
    let at = seen::neighbour(case, seen, n)?;
    let other = seen.cylinders.iter().find(|cylinder| cylinder.at == at)?;
    Some(Sign::Neighbour {
        cylinder: case.name(own.at).to_owned(),
        neighbour: case.name(at).to_owned(),
        share_of_best: libm::exp(other.level - seen::best(&seen.cylinders)),
        share_of_neighbour: libm::exp(own.level - other.level),
    })
}

fn oil(case: &Case<'_>, seen: &Seen, n: usize) -> Option<Sign> {
    let own = seen.cylinders.get(n)?;
    own.oil?;
    let gain = wet_gain(case, own.at)?;
    let (_, dry) = dry_beside_wet(&case.cylinders.get(own.at)?.entries)?;
    let share = |change: crate::units::Pressure| change / dry.value;
    Some(Sign::Oil {
        cylinder: case.name(own.at).to_owned(),
        change: share(gain.rise),
        by_volume_most: gain.by_volume_most.map(share),
    })
}

fn heard(case: &Case<'_>, seen: &Seen, n: usize) -> Option<Sign> {
    let own = seen.cylinders.get(n)?;
    let places = case.aired(own.at)?.heard.to_vec();
    (!places.is_empty()).then(|| Sign::Heard {
        cylinder: case.name(own.at).to_owned(),
        places,
    })
}

/// As if nobody had listened.
fn without_heard(seen: &Seen, n: usize) -> Seen {
    let mut rest = seen.clone();
    if let Some(cylinder) = rest.cylinders.get_mut(n) {
        cylinder.heard = Heard::NOTHING;
    }
    rest
}

/// As if the card let nothing be expected.
fn unexpected(seen: &Seen) -> Seen {
    let mut rest = seen.clone();
    let best = seen::best(&rest.cylinders);
    for cylinder in &mut rest.cylinders {
        cylinder.level -= best;
    }
    rest.doubt = odds::NOTHING_EXPECTED;
    rest.expected = false;
    rest
}

/// As if it were the only cylinder.
fn alone(seen: &Seen, n: usize) -> Seen {
    let mut rest = seen.clone();
    rest.cylinders = seen.cylinders.get(n).copied().into_iter().collect();
    rest.pairs.clear();
    rest
}

fn without_pairs(seen: &Seen) -> Seen {
    let mut rest = seen.clone();
    rest.pairs.clear();
    rest
}

fn without_oil(seen: &Seen, n: usize) -> Seen {
    let mut rest = seen.clone();
    if let Some(cylinder) = rest.cylinders.get_mut(n) {
        cylinder.oil = None;
    }
    rest
}

fn standing(seen: &Seen) -> Seen {
    Seen {
        falls: false,
        ..seen.clone()
    }
}
