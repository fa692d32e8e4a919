//! What may be the matter with a cylinder: probabilities from [`CauseModel`], evidence in plain
//! words, and never more than the readings support.

mod evidence;
mod features;
mod fit;
mod likelihood;

pub use features::{Feature, Observed};
pub use fit::{Example, fit};
pub use likelihood::{CauseModel, Grade};

use super::case::Case;
use super::results::{Cause, CauseKind};
use crate::engine::{Condition, Cycle, Ignition};
use std::collections::BTreeMap;

/// Causes less probable than this are not listed.
const LEAST_LISTED: f64 = 0.02;

/// The likely causes of a cylinder's readings, most probable first; none without a dry reading.
pub(super) fn causes(case: &Case<'_>, at: usize, model: &CauseModel) -> Vec<Cause> {
    let observed = features::observe(case, at);
    if observed.is_empty() {
        return Vec::new();
    }
    let permitted = |kind: CauseKind| permitted(case, at, kind);
    let mut probabilities = model.probabilities(&observed, permitted);
    if !told_apart(case, at) {
        merge_rings_and_valve(&mut probabilities);
    }
    let mut causes: Vec<Cause> = probabilities
        .into_iter()
        .filter(|(_, probability)| *probability >= LEAST_LISTED)
        .map(|(kind, probability)| {
            let (evidence_for, evidence_against) =
                evidence::weigh(case, at, kind, &observed, model, &permitted);
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
    pub observed: Vec<Observed>,
    /// Causes that this engine can have.
    pub permitted: Vec<CauseKind>,
}

/// The signs of each cylinder that has a dry reading.
pub(super) fn signs(case: &Case<'_>) -> Vec<Signs> {
    (0..case.cylinders.len())
        .map(|at| Signs {
            cylinder: case.name(at).to_owned(),
            observed: features::observe(case, at),
            permitted: CauseKind::ALL
                .into_iter()
                .filter(|kind| permitted(case, at, *kind))
                .collect(),
        })
        .filter(|signs| !signs.observed.is_empty())
        .collect()
}

/// Causes that this engine can have at all.
fn permitted(case: &Case<'_>, at: usize, kind: CauseKind) -> bool {
    let two_stroke = case.cycle == Some(Cycle::TwoStroke);
    match kind {
        CauseKind::Valve | CauseKind::ValveTiming => !two_stroke,
        CauseKind::ThrottleShut => case.ignition == Ignition::Spark,
        CauseKind::Gasket => case
            .cylinders
            .get(at)
            .is_some_and(|cylinder| !cylinder.neighbours.is_empty()),
        _ => true,
    }
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
        CauseKind::ValveTiming
        | CauseKind::ThrottleShut
        | CauseKind::SlowCranking
        | CauseKind::TesterLeak => case.cylinders.iter().map(|c| c.name.clone()).collect(),
        _ => vec![case.name(at).to_owned()],
    }
}
