//! Fitting [`CauseModel`] to sessions whose causes are known.
//!
//! The examples of a cause are cut into grades of severity with about as many in each; a grade's
//! mean and variance of each feature are those of its examples. What the measurement alone scatters is taken
//! off the variances, because it is added again where a reading is judged.

use super::features::{Feature, Observed};
use super::likelihood::{CauseModel, Grade};
use crate::assess::results::CauseKind;
use std::collections::BTreeMap;

/// A cylinder whose cause is known.
#[derive(Clone, Debug)]
pub struct Example {
    /// What was the matter.
    pub cause: CauseKind,
    /// Examples of a cause that look different by nature (one cylinder or all of them) are of
    /// different groups, and never share a grade.
    pub group: u8,
    /// How bad it was, in any unit that orders the examples of a group.
    pub severity: f64,
    /// Which causes it could have had by its card.
    pub permitted: Vec<CauseKind>,
    /// What was observed.
    pub observed: Vec<Observed>,
}

/// Most grades of a group.
const MOST_GRADES: usize = 6;
/// Fewest examples of a grade.
const LEAST_EXAMPLES: usize = 40;
/// Fewest examples that fix a feature's mean and variance in a grade.
const LEAST_SEEN: usize = 8;
/// Least standard deviation of a feature within a grade.
const FLOOR: f64 = 0.008;
/// Temperatures that are tried.
const TEMPERATURES: [f64; 11] = [0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5, 1.75, 2.0, 2.5];
/// Degrees of freedom that are tried.
const FREEDOMS: [f64; 5] = [4.0, 6.0, 9.0, 15.0, 30.0];

/// Fits a model. Every other example sets the grades' moments; the rest choose tails and
/// temperature by the mean logarithm of the probability given to the true cause; then the
/// moments are taken from all.
pub fn fit(examples: &[Example], made_by: &str) -> CauseModel {
    let (even, odd): (Vec<_>, Vec<_>) = examples.iter().enumerate().partition(|(n, _)| n % 2 == 0);
    let half: Vec<&Example> = even.into_iter().map(|(_, example)| example).collect();
    let rest: Vec<&Example> = odd.into_iter().map(|(_, example)| example).collect();
    let mut tried = model(&half, made_by);
    let mut best = (f64::NEG_INFINITY, tried.freedom, tried.temperature);
    for freedom in FREEDOMS {
        for temperature in TEMPERATURES {
            tried.freedom = freedom;
            tried.temperature = temperature;
            let score = mean_log(&tried, &rest);
            if score > best.0 {
                best = (score, freedom, temperature);
            }
        }
    }
    let all: Vec<&Example> = examples.iter().collect();
    CauseModel {
        freedom: best.1,
        temperature: best.2,
        ..model(&all, made_by)
    }
}

/// Mean logarithm of the probability given to the true cause.
fn mean_log(model: &CauseModel, examples: &[&Example]) -> f64 {
    let total: f64 = examples
        .iter()
        .map(|example| {
            let permitted = |kind| example.permitted.contains(&kind);
            let given = model.probabilities(&example.observed, permitted);
            libm::log(given.get(&example.cause).copied().unwrap_or(0.0).max(1e-6))
        })
        .sum();
    total / (examples.len().max(1) as f64)
}

fn model(examples: &[&Example], made_by: &str) -> CauseModel {
    let mut by_cause: BTreeMap<(CauseKind, u8), Vec<&Example>> = BTreeMap::new();
    for example in examples {
        let group = (example.cause, example.group);
        by_cause.entry(group).or_default().push(example);
    }
    let overall = Moments::of(examples, None);
    let mut grades = Vec::new();
    for ((cause, _), mut members) in by_cause {
        members.sort_by(|a, b| a.severity.total_cmp(&b.severity));
        let parts = (members.len() / LEAST_EXAMPLES).clamp(1, MOST_GRADES);
        for part in members.chunks(members.len().div_ceil(parts)) {
            let moments = Moments::of(part, Some(&overall));
            grades.push(Grade {
                cause,
                weight: part.len() as f64 / examples.len() as f64,
                mean: moments.mean.iter().map(|value| rounded(*value)).collect(),
                variance: moments
                    .variance
                    .iter()
                    .map(|value| rounded(*value))
                    .collect(),
            });
        }
    }
    CauseModel {
        made_by: made_by.to_owned(),
        grades,
        ..CauseModel::default()
    }
}

/// Six significant digits are more than the examples carry.
fn rounded(value: f64) -> f64 {
    format!("{value:.5e}").parse().unwrap_or(value)
}

/// Mean and variance of each feature.
struct Moments {
    mean: Vec<f64>,
    variance: Vec<f64>,
}

impl Moments {
    /// Of those examples in which a feature was observed; what was hardly ever observed is taken
    /// from `otherwise`.
    fn of(examples: &[&Example], otherwise: Option<&Self>) -> Self {
        let (mean, variance) = Feature::ALL
            .into_iter()
            .enumerate()
            .map(|(i, feature)| {
                let find = |e: &&Example| e.observed.iter().find(|o| o.feature == feature).copied();
                let seen: Vec<Observed> = examples.iter().filter_map(find).collect();
                if seen.len() >= LEAST_SEEN {
                    return moments(&seen);
                }
                otherwise.map_or((0.0, 1.0), |other| {
                    (at(&other.mean, i), at(&other.variance, i))
                })
            })
            .unzip();
        Self { mean, variance }
    }
}

/// Mean and variance of what was seen, without what the measurement alone scatters.
fn moments(seen: &[Observed]) -> (f64, f64) {
    let count = seen.len() as f64;
    let middle = seen.iter().map(|o| o.value).sum::<f64>() / count;
    let scatter = seen
        .iter()
        .map(|o| (o.value - middle) * (o.value - middle) - o.variance);
    let scatter = scatter.sum::<f64>() / count;
    (middle, scatter.max(FLOOR * FLOOR))
}

/// A feature's entry; a model has one for each.
fn at(values: &[f64], i: usize) -> f64 {
    values.get(i).copied().unwrap_or_default()
}
