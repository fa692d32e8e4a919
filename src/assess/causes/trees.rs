//! How probable each cause is, given what was observed: a sum of small decision trees a cause,
//! turned into probabilities.
//!
//! Every tree asks a few questions about the features (is it over a threshold?) and gives a
//! number; the numbers of a cause's trees, added to its start, are its score, and the
//! probabilities of the causes are the softmax of the scores (gradient boosting for several
//! classes; Friedman 2001, *Greedy function approximation*). A question about something that was
//! not observed has its own answer, learned where the like was not observed either, so that a
//! missing run or a thin card is not guessed over. Features that hang together are asked about
//! together, which independent densities can not do. The temperature, fitted on visits held back,
//! makes stated probabilities come true as often as they say.

use super::features::{Feature, Observed};
use crate::assess::results::CauseKind;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// A decision tree as a table of nodes; node 0 is the root.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tree {
    /// The cause whose score it adds to.
    pub cause: Option<CauseKind>,
    /// For each node the index of the feature asked about in [`Feature::ALL`]; −1 for a leaf.
    pub asks: Vec<i32>,
    /// The threshold of a question; the number that a leaf gives.
    pub value: Vec<f64>,
    /// Next node where the feature is at or below the threshold; 0 for a leaf.
    pub low: Vec<u32>,
    /// Next node where it is above; 0 for a leaf.
    pub high: Vec<u32>,
    /// Whether the low branch is taken where the feature was not observed.
    pub absent_low: Vec<bool>,
}

impl Tree {
    /// What the tree gives; 0 where the table is broken.
    pub fn gives(&self, observed: &Observed) -> f64 {
        self.answer(observed).gives
    }

    fn answer(&self, observed: &Observed) -> Answer {
        let mut asked = 0;
        let gives = self.follow(observed, |feature| asked |= bit(feature));
        Answer { gives, asked }
    }

    /// From question to question; each feature that is asked about is told.
    fn follow(&self, observed: &Observed, mut asked: impl FnMut(usize)) -> f64 {
        let mut node = 0;
        // A path is never longer than the table: a broken one ends.
        for _ in 0..self.asks.len() {
            let (Some(asks), Some(value)) = (self.asks.get(node), self.value.get(node)) else {
                return 0.0;
            };
            let Ok(feature) = usize::try_from(*asks) else {
                return *value;
            };
            asked(feature);
            let low = match observed.get(feature).copied().flatten() {
                Some(seen) => seen <= *value,
                None => self.absent_low.get(node).copied().unwrap_or(true),
            };
            let next = if low { &self.low } else { &self.high };
            node = next.get(node).map_or(usize::MAX, |next| *next as usize);
        }
        0.0
    }

    /// Whether every node is complete and leads on.
    fn whole(&self) -> bool {
        let count = self.asks.len();
        let even = [
            self.value.len(),
            self.low.len(),
            self.high.len(),
            self.absent_low.len(),
        ];
        let leads = |node: usize| {
            let next = |list: &[u32]| {
                list.get(node)
                    .is_some_and(|next| (*next as usize) > node && (*next as usize) < count)
            };
            self.asks.get(node).is_some_and(|asks| {
                *asks < 0
                    || ((*asks as usize) < Feature::COUNT && next(&self.low) && next(&self.high))
            })
        };
        count > 0
            && even.iter().all(|len| *len == count)
            && self.cause.is_some()
            && (0..count).all(leads)
    }
}

/// What a tree gives, and what it rests on.
#[derive(Clone, Copy, Debug)]
pub(super) struct Answer {
    gives: f64,
    /// The features that were asked about on the way, a bit each.
    asked: u64,
}

/// A feature's bit, by its index.
pub(super) fn bit(feature: usize) -> u64 {
    1 << (feature % 64)
}

/// Score that a cause has before any question is asked.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Start {
    /// The cause.
    pub cause: CauseKind,
    /// Logarithm of its share of the stated population.
    pub score: f64,
}

/// The causes and how they are told.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CauseModel {
    /// The command that made it, or where the numbers come from.
    pub made_by: String,
    /// What it was grown from.
    pub grown_from: String,
    /// Scores are divided by this before they are turned into probabilities, so that stated
    /// probabilities come true as often as they say (1 leaves them alone).
    pub temperature: f64,
    /// Relative standard uncertainty of a leak area beyond what is known of reading, card and air:
    /// how far the stroke model is off.
    pub leak_doubt: f64,
    /// The features, in order: a check that file and code agree.
    pub features: Vec<Feature>,
    /// Where each cause starts.
    pub start: Vec<Start>,
    /// The trees.
    pub trees: Vec<Tree>,
}

impl CauseModel {
    /// The model that ships.
    pub fn shipped() -> &'static Self {
        static MODEL: LazyLock<CauseModel> =
            LazyLock::new(|| CauseModel::parse(include_str!("model.json")).unwrap_or_default());
        &MODEL
    }

    /// Reads a model from JSON; none where it does not fit this code.
    pub fn parse(text: &str) -> Option<Self> {
        let model: Self = serde_json::from_str(text).ok()?;
        let fits = model.features == Feature::ALL
            && model.temperature > 0.0
            && model.leak_doubt >= 0.0
            && model.trees.iter().all(Tree::whole);
        fits.then_some(model)
    }

    /// Probability of each permitted cause, given what was observed.
    pub fn probabilities(
        &self,
        observed: &Observed,
        permitted: impl Fn(CauseKind) -> bool,
    ) -> BTreeMap<CauseKind, f64> {
        self.weighed(&self.answers(observed), permitted)
    }

    /// What every tree gives.
    pub(super) fn answers(&self, observed: &Observed) -> Vec<Answer> {
        self.trees
            .iter()
            .map(|tree| tree.answer(observed))
            .collect()
    }

    /// The same without some of the features, their bits in `left_out`: only the trees that asked
    /// about one of them are asked again.
    pub(super) fn answers_without(
        &self,
        answers: &[Answer],
        left_out: u64,
        rest: &Observed,
    ) -> Vec<Answer> {
        let trees = self.trees.iter().zip(answers);
        let again = |(tree, answer): (&Tree, &Answer)| match answer.asked & left_out {
            0 => *answer,
            _ => tree.answer(rest),
        };
        trees.map(again).collect()
    }

    /// Probability of each permitted cause from what the trees gave.
    pub(super) fn weighed(
        &self,
        answers: &[Answer],
        permitted: impl Fn(CauseKind) -> bool,
    ) -> BTreeMap<CauseKind, f64> {
        let mut scores: BTreeMap<CauseKind, f64> = self
            .start
            .iter()
            .filter(|start| permitted(start.cause))
            .map(|start| (start.cause, start.score))
            .collect();
        for (tree, answer) in self.trees.iter().zip(answers) {
            if let Some(score) = tree.cause.and_then(|cause| scores.get_mut(&cause)) {
                *score += answer.gives;
            }
        }
        let highest = scores.values().copied().fold(f64::NEG_INFINITY, f64::max);
        for score in scores.values_mut() {
            *score = libm::exp((*score - highest) / self.temperature);
        }
        let total: f64 = scores.values().sum();
        for score in scores.values_mut() {
            *score /= total;
        }
        scores
    }
}

impl Default for CauseModel {
    /// No causes known: every question is left open.
    fn default() -> Self {
        Self {
            made_by: "nothing".to_owned(),
            grown_from: "nothing".to_owned(),
            temperature: 1.0,
            leak_doubt: 0.5,
            features: Feature::ALL.to_vec(),
            start: Vec::new(),
            trees: Vec::new(),
        }
    }
}
