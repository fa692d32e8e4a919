//! What may be the matter with a cylinder: probabilities with the evidence behind them, and never
//! more than the readings support.
//!
//! A cause has to explain what was *read*. What all cylinders share (a shut throttle, slow
//! cranking, a leaking tester, wrong timing) is looked for only where even the best of them reads
//! less than it should by more than both uncertainties.

mod evidence;
mod odds;
mod seen;
mod weigh;

use super::air;
use super::case::Case;
use super::level::card_doubted;
use super::results::{Cause, CauseKind, ValveSide};
use super::saying::{Saying, Suspicion};
use crate::engine::expected::{Basis, expected};
use crate::engine::{Condition, Cycle, Ignition, Start};
use crate::signal::Flag;
use crate::units::Rate;
use seen::Seen;
use weigh::{Possible, Probabilities};

/// Causes less probable than this are not listed.
const LEAST_LISTED: f64 = 0.02;
/// Starters turn small engines at 150 to 300 turns a minute (an owner's measurement of a small
/// engine: 120 to 150 with its plugs, 180 to 190 without; NASA Tech Briefs on starter currents: 150
/// on average for a large diesel). Slower than this is slow.
const SLOW_STARTER_PER_MIN: f64 = 150.0;
/// Slower than this is slow by hand. Common practice, no source.
const SLOW_HAND_PER_MIN: f64 = 80.0;
/// What a starter usually does, that a slow one is held against.
const USUAL_STARTER_PER_MIN: f64 = 220.0;
const USUAL_HAND_PER_MIN: f64 = 120.0;

/// The likely causes of each cylinder's readings, most probable first; none without a dry
/// reading, or where there is nothing to hold it against.
pub(super) fn causes(case: &Case<'_>) -> Vec<Vec<Cause<Saying>>> {
    let mut all = vec![Vec::new(); case.cylinders.len()];
    let Some(seen) = seen::look(case) else {
        return all;
    };
    let possible = possible(case, &seen);
    let weighed = weigh::weigh(&seen, possible);
    for (n, mut given) in weighed.into_iter().enumerate() {
        let at = seen.cylinders[n].at;
        let with = given.clone();
        merge_unless_told_apart(case, at, &mut given);
        given.retain(|_, probability| *probability >= LEAST_LISTED);
        let weights = evidence::weights(case, &seen, possible, n);
        let mut listed: Vec<Cause<Saying>> = given
            .into_iter()
            .map(|(kind, probability)| {
                let (evidence_for, evidence_against) =
                    evidence::weighed(case, at, kind, &with, &weights);
                Cause {
                    kind,
                    valve: side(case, at).filter(|_| kind == CauseKind::Valve),
                    cylinders: concerned(case, &seen, n, kind),
                    probability,
                    text: Saying::Cause(suspicion(case, &seen, n, kind)),
                    evidence_for,
                    evidence_against,
                }
            })
            .collect();
        listed.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        all[at] = listed;
    }
    all
}

/// What this engine and its test can have at all: not what the card says was seen to, and of what
/// all share only what explains readings that are low.
fn possible(case: &Case<'_>, seen: &Seen) -> Possible {
    let two_stroke = case.cycle == Some(Cycle::TwoStroke);
    let checked = case.card.and_then(|card| card.checked).unwrap_or_default();
    let low = seen.expected && low(seen);
    let throttle_flags = case
        .cylinders
        .iter()
        .flat_map(|c| c.entries.values())
        .all(|entry| {
            let shut = |flag: &Flag| matches!(flag, Flag::ThrottleMayBeShut { .. });
            entry.result.flags.iter().any(shut)
        });
    let start = case.card.and_then(|card| card.engine.start);
    Possible {
        valves: !two_stroke,
        throttle: (low || throttle_flags)
            && case.ignition == Ignition::Spark
            && !checked.throttle_open,
        tester: seen.falls
            || low && !(checked.tester_tight || air::tester_is_tight(case.air) == Some(true)),
        timing: low && !two_stroke,
        slow: turned_slowly(case),
        kicked: matches!(start, Some(Start::Kick | Start::PullCord)),
    }
}

/// Whether even the best cylinder reads less than it should by more than both uncertainties.
fn low(seen: &Seen) -> bool {
    let least = seen
        .cylinders
        .iter()
        .map(|c| c.doubt)
        .fold(f64::MAX, f64::min);
    seen::best(&seen.cylinders) < -odds::LOW_BY * libm::hypot(seen.doubt, least)
}

/// Whether every cylinder was turned slowly, and reads less than it would at a usual speed.
pub(super) fn turned_slowly(case: &Case<'_>) -> bool {
    let (slow, usual) = match case.card.and_then(|card| card.engine.start) {
        Some(Start::Electric) | None => (SLOW_STARTER_PER_MIN, USUAL_STARTER_PER_MIN),
        Some(Start::HandCrank) => (SLOW_HAND_PER_MIN, USUAL_HAND_PER_MIN),
        Some(Start::Kick | Start::PullCord) => return false,
    };
    let (Some(card), Some(condition)) = (case.card, case.dry) else {
        return false;
    };
    let Some(should) = expected(
        card,
        &case.ambient,
        Some(Rate::from_per_min(usual)),
        condition,
    ) else {
        return false;
    };
    let readings = case.of(condition);
    should.basis != Basis::RatioOnly
        && !readings.is_empty()
        && readings.iter().all(|(_, entry)| {
            let doubt = libm::hypot(should.standard.pa(), entry.standard.pa());
            let low = (should.likely - entry.value).pa() > odds::LOW_BY * doubt;
            low && entry.crank.is_some_and(|crank| crank.per_min() < slow)
        })
}

/// Oil tells rings from a valve, or where air is heard; a two-stroke has no valves to tell them from.
pub(super) fn told_apart(case: &Case<'_>, at: usize) -> bool {
    case.cycle == Some(Cycle::TwoStroke)
        || case.aired(at).is_some_and(|aired| !aired.heard.is_empty())
        || case
            .cylinders
            .get(at)
            .is_some_and(|cylinder| cylinder.entries.contains_key(&Condition::Wet))
}

fn merge_unless_told_apart(case: &Case<'_>, at: usize, given: &mut Probabilities) {
    if told_apart(case, at) {
        return;
    }
    let rings = given.remove(&CauseKind::Rings);
    let valve = given.remove(&CauseKind::Valve);
    if rings.is_some() || valve.is_some() {
        let both = rings.unwrap_or(0.0) + valve.unwrap_or(0.0);
        given.insert(CauseKind::RingsOrValve, both);
    }
}

/// The valve at which air is heard.
fn side(case: &Case<'_>, at: usize) -> Option<ValveSide> {
    case.aired(at)?.side()
}

/// What the readings of a cylinder are consistent with.
fn suspicion(case: &Case<'_>, seen: &Seen, n: usize, kind: CauseKind) -> Suspicion {
    let at = seen.cylinders[n].at;
    let neighbour = seen::neighbour(case, seen, n);
    let pair = neighbour.map_or([at, at], |other| [at.min(other), at.max(other)]);
    let several = case.cylinders.len() > 1;
    Suspicion {
        kind,
        cylinder: case.name(at).to_owned(),
        pair: pair.map(|at| case.name(at).to_owned()),
        valve: side(case, at),
        twin: case.cylinders.len() == 2,
        all_high: several && kind == CauseKind::HighCompression && card_doubted(case).is_some(),
    }
}

/// The cylinders that a cause concerns.
fn concerned(case: &Case<'_>, seen: &Seen, n: usize, kind: CauseKind) -> Vec<String> {
    let at = seen.cylinders[n].at;
    let mut concerned = vec![at];
    match kind {
        CauseKind::Gasket => concerned.extend(seen::neighbour(case, seen, n)),
        kind if kind.is_shared() => concerned = (0..case.cylinders.len()).collect(),
        _ => {}
    }
    concerned.sort_unstable();
    concerned
        .into_iter()
        .map(|at| case.name(at).to_owned())
        .collect()
}
