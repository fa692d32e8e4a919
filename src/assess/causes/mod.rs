//! What may be the matter with a cylinder: probabilities from [`CauseModel`], evidence in plain
//! words, and never more than the readings support.

mod boost;
mod evidence;
mod features;
mod trees;

pub use boost::{Example, fit};
pub use features::{Feature, Observed};
pub use trees::{CauseModel, Start, Tree};

use super::case::Case;
use super::level::expected_for;
use super::results::{Cause, CauseKind};
use crate::engine::expected::Basis;
use crate::engine::{Condition, Cycle, Ignition};
use crate::signal::Flag;
use features::Group;
use std::collections::BTreeMap;
use trees::Answer;

/// Causes less probable than this are not listed.
const LEAST_LISTED: f64 = 0.02;

/// Causes that all cylinders share.
const SHARED: [CauseKind; 4] = [
    CauseKind::ValveTiming,
    CauseKind::ThrottleShut,
    CauseKind::SlowCranking,
    CauseKind::TesterLeak,
];

/// Probabilities of a cylinder's causes.
type Probabilities = BTreeMap<CauseKind, f64>;

/// The likely causes of each cylinder's readings, most probable first; none without a dry
/// reading.
pub(super) fn causes(case: &Case<'_>, model: &CauseModel) -> Vec<Vec<Cause>> {
    let observed = features::observe(case);
    let views: Vec<Option<View<'_>>> = observed
        .iter()
        .enumerate()
        .map(|(at, observed)| Some(View::new(case, at, observed.as_ref()?, model)))
        .collect();
    let mut given: Vec<Option<Probabilities>> = views
        .iter()
        .map(|view| view.as_ref().map(|view| view.alone.clone()))
        .collect();
    share(&mut given);
    views
        .iter()
        .zip(given)
        .map(|(view, given)| match (view, given) {
            (Some(view), Some(given)) => listed(case, view, given),
            _ => Vec::new(),
        })
        .collect()
}

/// A cylinder as the model sees it.
struct View<'m> {
    at: usize,
    observed: &'m Observed,
    model: &'m CauseModel,
    /// What the model's trees give for it.
    answers: Vec<Answer>,
    /// Causes that it can have and that the readings can show.
    possible: Vec<CauseKind>,
    /// Whether the readings tell rings from a valve.
    told_apart: bool,
    /// Probabilities from what was observed of this cylinder alone.
    alone: Probabilities,
}

impl<'m> View<'m> {
    fn new(case: &Case<'_>, at: usize, observed: &'m Observed, model: &'m CauseModel) -> Self {
        let possible = |kind: &CauseKind| permitted(case, at, *kind) && can_show(case, at, *kind);
        let mut view = Self {
            at,
            observed,
            model,
            answers: model.answers(observed),
            possible: CauseKind::ALL.into_iter().filter(possible).collect(),
            told_apart: told_apart(case, at),
            alone: Probabilities::new(),
        };
        view.alone = view.probabilities(&view.answers);
        view
    }

    fn probabilities(&self, answers: &[Answer]) -> Probabilities {
        let possible = |kind| self.possible.contains(&kind);
        let mut all = self.model.weighed(answers, possible);
        if !self.told_apart {
            merge_rings_and_valve(&mut all);
        }
        all
    }

    /// Probabilities with each group left out that was observed.
    fn left_out(&self) -> Vec<(Group, Probabilities)> {
        let without = |group: Group| {
            let rest = group.left_out(self.observed)?;
            let answers = self
                .model
                .answers_without(&self.answers, group.bits(), &rest);
            Some((group, self.probabilities(&answers)))
        };
        Group::ALL.into_iter().filter_map(without).collect()
    }
}

/// What all cylinders share is as probable in each as it is on average over them; the rest keeps
/// its proportions.
fn share(given: &mut [Option<Probabilities>]) {
    let count = given.iter().flatten().count() as f64;
    let means: Vec<(CauseKind, f64)> = SHARED
        .into_iter()
        .map(|kind| {
            let sum: f64 = given
                .iter()
                .flatten()
                .filter_map(|own| own.get(&kind))
                .sum();
            (kind, sum / count)
        })
        .collect();
    let together: f64 = means.iter().map(|(_, mean)| mean).sum();
    for own in given.iter_mut().flatten() {
        let of_others = |own: &Probabilities| -> f64 {
            let others = own.iter().filter(|(kind, _)| !SHARED.contains(kind));
            others.map(|(_, probability)| probability).sum()
        };
        let scale = (1.0 - together) / of_others(own);
        if !scale.is_finite() {
            continue;
        }
        for (kind, probability) in own.iter_mut() {
            match means.iter().find(|(shared, _)| shared == kind) {
                Some((_, mean)) => *probability = *mean,
                None => *probability *= scale,
            }
        }
    }
}

/// The causes worth listing, with their evidence.
fn listed(case: &Case<'_>, view: &View<'_>, given: Probabilities) -> Vec<Cause> {
    let at = view.at;
    let left_out = view.left_out();
    let mut causes: Vec<Cause> = given
        .into_iter()
        .filter(|(_, probability)| *probability >= LEAST_LISTED)
        .map(|(kind, probability)| {
            let of = |all: &Probabilities| all.get(&kind).copied().unwrap_or(0.0);
            let without: Vec<(Group, f64)> = left_out
                .iter()
                .map(|(group, all)| (*group, of(all)))
                .collect();
            let with = of(&view.alone);
            let (evidence_for, evidence_against) =
                evidence::weigh(case, at, kind, view.observed, with, &without);
            Cause {
                kind,
                cylinders: concerned(case, at, kind),
                probability,
                text: evidence::statement(case, at, kind),
                evidence_for,
                evidence_against,
            }
        })
        .collect();
    causes.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    causes
}

/// What a cylinder shows and which causes it can have: the input of a calibration.
#[derive(Clone, Debug, PartialEq)]
pub struct Signs {
    /// Name of the cylinder.
    pub cylinder: String,
    /// What was observed.
    pub observed: Observed,
    /// Causes that this engine can have.
    pub permitted: Vec<CauseKind>,
}

/// The signs of each cylinder that has a dry reading.
pub(super) fn signs(case: &Case<'_>) -> Vec<Signs> {
    let all = features::observe(case).into_iter().enumerate();
    all.filter_map(|(at, observed)| {
        Some(Signs {
            cylinder: case.name(at).to_owned(),
            observed: observed?,
            permitted: CauseKind::ALL
                .into_iter()
                .filter(|kind| permitted(case, at, *kind))
                .collect(),
        })
    })
    .collect()
}

/// Causes that this engine and its test can have at all: not what the card says was seen to.
fn permitted(case: &Case<'_>, at: usize, kind: CauseKind) -> bool {
    let two_stroke = case.cycle == Some(Cycle::TwoStroke);
    let checked = case.card.and_then(|card| card.checked).unwrap_or_default();
    match kind {
        CauseKind::Valve | CauseKind::ValveTiming => !two_stroke,
        CauseKind::ThrottleShut => case.ignition == Ignition::Spark && !checked.throttle_open,
        CauseKind::TesterLeak => !checked.tester_tight || saw_tester_leak(case),
        CauseKind::Gasket => case
            .cylinders
            .get(at)
            .is_some_and(|cylinder| !cylinder.neighbours.is_empty()),
        _ => true,
    }
}

/// Whether the readings can show a cause at all. What all cylinders share shows against what the
/// card lets expect; without that only by a sign of its own, and is not guessed at.
fn can_show(case: &Case<'_>, at: usize, kind: CauseKind) -> bool {
    let saw_throttle = |flag: &Flag| matches!(flag, Flag::ThrottleMayBeShut { .. });
    match kind {
        CauseKind::ValveTiming => held_against_card(case, at),
        CauseKind::ThrottleShut => held_against_card(case, at) || saw(case, saw_throttle),
        CauseKind::TesterLeak => held_against_card(case, at) || saw_tester_leak(case),
        _ => true,
    }
}

/// Whether the card lets compute what a cylinder should have read.
pub(super) fn held_against_card(case: &Case<'_>, at: usize) -> bool {
    let expected = case
        .dry
        .zip(case.dry_entry(at))
        .and_then(|(condition, entry)| expected_for(case, condition, entry));
    expected.is_some_and(|expected| expected.basis != Basis::RatioOnly)
}

/// Whether some run that counts has a flag.
fn saw(case: &Case<'_>, wanted: impl Fn(&Flag) -> bool) -> bool {
    let runs = case.cylinders.iter().flat_map(|c| c.entries.values());
    runs.flat_map(|entry| &entry.result.flags).any(wanted)
}

/// Whether some held reading fell by itself: that outweighs what the card says of the tester.
fn saw_tester_leak(case: &Case<'_>) -> bool {
    saw(case, |flag| matches!(flag, Flag::TesterLeaks { .. }))
}

/// Only oil tells rings from a valve; a two-stroke has no valves to tell them from.
pub(super) fn told_apart(case: &Case<'_>, at: usize) -> bool {
    case.cycle == Some(Cycle::TwoStroke)
        || case
            .cylinders
            .get(at)
            .is_some_and(|cylinder| cylinder.entries.contains_key(&Condition::Wet))
}

fn merge_rings_and_valve(probabilities: &mut BTreeMap<CauseKind, f64>) {
    let rings = probabilities.remove(&CauseKind::Rings);
    let valve = probabilities.remove(&CauseKind::Valve);
    if rings.is_some() || valve.is_some() {
        let both = rings.unwrap_or(0.0) + valve.unwrap_or(0.0);
        probabilities.insert(CauseKind::RingsOrValve, both);
    }
}

/// The cylinders that a cause concerns.
fn concerned(case: &Case<'_>, at: usize, kind: CauseKind) -> Vec<String> {
    match kind {
        CauseKind::Gasket => {
            let mut pair = vec![at];
            pair.extend(features::lowest_neighbour(case, at));
            pair.sort_unstable();
            pair.into_iter()
                .map(|at| case.name(at).to_owned())
                .collect()
        }
        kind if SHARED.contains(&kind) => case.cylinders.iter().map(|c| c.name.clone()).collect(),
        _ => vec![case.name(at).to_owned()],
    }
}
