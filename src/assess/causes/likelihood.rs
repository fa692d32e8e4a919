//! How likely each cause is to give what was observed: several grades of severity a cause, and in
//! each grade a t distribution a feature.
//!
//! For a feature x of a grade with mean m and variance s², and with the measurement's own variance
//! d added, the density is t(x; m, s² + d, ν); the features of a grade count as independent. What
//! was not observed is left out, so that a missing run weighs nothing instead of being guessed.
//! Heavy tails (few degrees of freedom ν), feature by feature, keep one odd feature from deciding
//! alone and from drowning the others. That features of a grade do hang together makes the raw
//! probabilities too sure of themselves; the temperature, fitted on examples held back, takes that
//! out again.

use super::features::{Feature, Observed};
use crate::assess::results::CauseKind;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A cause in one grade of severity.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Grade {
    /// The cause.
    pub cause: CauseKind,
    /// Prior weight: how often it is met in the stated population.
    pub weight: f64,
    /// Mean of each feature, in the order of [`Feature::ALL`].
    pub mean: Vec<f64>,
    /// Variance of each feature within the grade, in the same order.
    pub variance: Vec<f64>,
}

/// The causes and what they give.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CauseModel {
    /// The command that made it, or where the numbers come from.
    pub made_by: String,
    /// Degrees of freedom of the t distributions (over 2).
    pub freedom: f64,
    /// Log-likelihoods are divided by this before they are turned into probabilities, so that
    /// stated probabilities come true as often as they say (1 leaves them alone).
    pub temperature: f64,
    /// The features, in order: a check that file and code agree.
    pub features: Vec<Feature>,
    /// The grades.
    #[serde(rename = "grade")]
    pub grades: Vec<Grade>,
}

impl CauseModel {
    /// The model that ships.
    pub fn shipped() -> &'static Self {
        static MODEL: LazyLock<CauseModel> =
            LazyLock::new(|| CauseModel::parse(include_str!("model.toml")).unwrap_or_default());
        &MODEL
    }

    /// Reads a model; none where it does not fit this code.
    pub fn parse(text: &str) -> Option<Self> {
        let model: Self = toml::from_str(text).ok()?;
        let size = Feature::COUNT;
        let fits = model.features == Feature::ALL
            && model.freedom > 2.0
            && model.temperature > 0.0
            && model
                .grades
                .iter()
                .all(|g| g.mean.len() == size && g.variance.len() == size);
        fits.then_some(model)
    }

    /// Probability of each permitted cause, given what was observed.
    pub fn probabilities(
        &self,
        observed: &[Observed],
        permitted: impl Fn(CauseKind) -> bool,
    ) -> BTreeMap<CauseKind, f64> {
        let mut logs: BTreeMap<CauseKind, Vec<f64>> = BTreeMap::new();
        for grade in self.grades.iter().filter(|g| permitted(g.cause)) {
            if let Some(density) = self.log_density(grade, observed) {
                let log = libm::log(grade.weight.max(1e-300)) + density;
                logs.entry(grade.cause).or_default().push(log);
            }
        }
        let scores: BTreeMap<CauseKind, f64> = logs
            .into_iter()
            .map(|(cause, logs)| (cause, log_sum(&logs) / self.temperature))
            .collect();
        let total = log_sum(&scores.values().copied().collect::<Vec<_>>());
        scores
            .into_iter()
            .map(|(cause, score)| (cause, libm::exp(score - total)))
            .collect()
    }

    /// How much one feature alone speaks for a cause rather than for the others: natural
    /// logarithm of the ratio of likelihoods.
    pub fn weight_of(
        &self,
        observed: Observed,
        cause: CauseKind,
        permitted: impl Fn(CauseKind) -> bool,
    ) -> f64 {
        let sum = |of_cause: bool| {
            let wanted = self
                .grades
                .iter()
                .filter(|g| permitted(g.cause) && (g.cause == cause) == of_cause);
            let total: f64 = wanted.clone().map(|g| g.weight).sum();
            let logs: Vec<f64> = wanted
                .filter_map(|g| {
                    let density = self.log_density(g, &[observed])?;
                    Some(libm::log((g.weight / total).max(1e-300)) + density)
                })
                .collect();
            log_sum(&logs)
        };
        sum(true) - sum(false)
    }

    /// Log density of the observed features in a grade; none where the grade does not hold them.
    fn log_density(&self, grade: &Grade, observed: &[Observed]) -> Option<f64> {
        let nu = self.freedom;
        let half = f64::midpoint(nu, 1.0);
        let constant = libm::lgamma(half)
            - libm::lgamma(nu / 2.0)
            - 0.5 * libm::log(nu * core::f64::consts::PI);
        let mut density = 0.0;
        for one in observed {
            let i = one.feature as usize;
            let variance = grade.variance.get(i)? + one.variance;
            let gap = one.value - grade.mean.get(i)?;
            density += constant
                - 0.5 * libm::log(variance)
                - half * libm::log1p(gap * gap / variance / nu);
        }
        density.is_finite().then_some(density)
    }
}

impl Default for CauseModel {
    /// No causes known: every question is left open.
    fn default() -> Self {
        Self {
            made_by: "nothing".to_owned(),
            freedom: 5.0,
            temperature: 1.0,
            features: Feature::ALL.to_vec(),
            grades: Vec::new(),
        }
    }
}

/// Logarithm of a sum of exponentials; minus infinity of nothing.
fn log_sum(logs: &[f64]) -> f64 {
    let highest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !highest.is_finite() {
        return f64::NEG_INFINITY;
    }
    highest + libm::log(logs.iter().map(|log| libm::exp(log - highest)).sum())
}
