//! How likely each cause is to give what was observed: a mixture of multivariate t
//! distributions, several grades of severity a cause.
//!
//! For observed features x of a grade with mean m and covariance S, and with the measurement's
//! own variances D added, the density is t(x; m, S + D, ν). What was not observed is left out
//! (rows and columns dropped), so that a missing run weighs nothing instead of being guessed.
//! Heavy tails (few degrees of freedom ν) keep one odd feature from deciding alone.

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
    /// Lower triangle of the covariance, row by row, in the same order.
    pub covariance: Vec<f64>,
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
                .all(|g| g.mean.len() == size && g.covariance.len() == size * (size + 1) / 2);
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

    /// Log density of the observed features in a grade; none where the matrix is no covariance.
    fn log_density(&self, grade: &Grade, observed: &[Observed]) -> Option<f64> {
        let size = observed.len();
        let mut lower = vec![0.0; size * size];
        let mut gap = Vec::with_capacity(size);
        for (row, one) in observed.iter().enumerate() {
            let i = one.feature as usize;
            gap.push(one.value - grade.mean.get(i)?);
            for (column, other) in observed.iter().enumerate().take(row + 1) {
                let j = other.feature as usize;
                let (high, low) = (i.max(j), i.min(j));
                let mut value = *grade.covariance.get(high * (high + 1) / 2 + low)?;
                if row == column {
                    value += one.variance;
                }
                *lower.get_mut(row * size + column)? = value;
            }
        }
        cholesky(&mut lower, size)?;
        let mut squared = 0.0;
        let mut log_determinant = 0.0;
        let mut solved: Vec<f64> = Vec::with_capacity(size);
        for row in 0..size {
            let mut rest = *gap.get(row)?;
            for (column, value) in solved.iter().enumerate() {
                rest -= lower.get(row * size + column)? * value;
            }
            let pivot = *lower.get(row * size + row)?;
            let value = rest / pivot;
            squared += value * value;
            log_determinant += 2.0 * libm::log(pivot);
            solved.push(value);
        }
        let (nu, d) = (self.freedom, size as f64);
        let half = f64::midpoint(nu, d);
        let constant = libm::lgamma(half)
            - libm::lgamma(nu / 2.0)
            - d / 2.0 * libm::log(nu * core::f64::consts::PI);
        let density = constant - 0.5 * log_determinant - half * libm::log1p(squared / nu);
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

/// Cholesky factor in place of a symmetric matrix's lower triangle; none if it is not positive.
pub(super) fn cholesky(lower: &mut [f64], size: usize) -> Option<()> {
    for row in 0..size {
        for column in 0..=row {
            let mut sum = *lower.get(row * size + column)?;
            for k in 0..column {
                sum -= lower.get(row * size + k)? * lower.get(column * size + k)?;
            }
            let value = if row == column {
                if sum <= 0.0 || !sum.is_finite() {
                    return None;
                }
                libm::sqrt(sum)
            } else {
                sum / lower.get(column * size + column)?
            };
            *lower.get_mut(row * size + column)? = value;
        }
    }
    Some(())
}

/// Logarithm of a sum of exponentials; minus infinity of nothing.
fn log_sum(logs: &[f64]) -> f64 {
    let highest = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if !highest.is_finite() {
        return f64::NEG_INFINITY;
    }
    highest + libm::log(logs.iter().map(|log| libm::exp(log - highest)).sum())
}
