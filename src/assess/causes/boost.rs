//! Fitting [`CauseModel`] to cylinders whose causes are known: gradient boosting for several
//! classes with second-order steps (Friedman 2001; the steps of Chen and Guestrin 2016).

use super::features::{Feature, Observed};
use super::trees::{CauseModel, Start, Tree};
use crate::assess::results::CauseKind;

/// A cylinder whose cause is known.
#[derive(Clone, Debug)]
pub struct Example {
    /// The visit it was read in: cylinders of one visit are held back together.
    pub visit: usize,
    /// What was the matter.
    pub cause: CauseKind,
    /// Which causes it could have had by its card.
    pub permitted: Vec<CauseKind>,
    /// What was observed.
    pub observed: Observed,
}

/// Most rounds (one tree a cause each) that are tried.
const MOST_ROUNDS: usize = 130;
/// Share of each step that is taken.
const RATE: f64 = 0.1;
/// Most leaves of a tree.
const LEAVES: usize = 8;
/// Fewest examples of a leaf.
const LEAST_EXAMPLES: usize = 15;
/// Weight that pulls leaves towards nothing.
const RIDGE: f64 = 1.0;
/// Thresholds tried for a feature.
const CUTS: usize = 48;
/// One visit in this many is held back.
const HELD_BACK: usize = 4;
/// Temperatures that are tried.
const TEMPERATURES: [f64; 9] = [0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.35, 1.5, 1.75];

/// Fits a model. Three visits in four grow trees while the fourth says, by the mean logarithm of
/// the probability given to the true cause, after how many rounds and at which temperature to
/// stop; then the trees are grown from all.
pub fn fit(examples: &[Example], made_by: &str) -> CauseModel {
    let (rest, kept): (Vec<&Example>, Vec<&Example>) = examples
        .iter()
        .partition(|example| example.visit % HELD_BACK == 0);
    let tried = grown(&kept, MOST_ROUNDS);
    let (rounds, temperature) = best_stop(&tried, &rest);
    let all: Vec<&Example> = examples.iter().collect();
    let mut model = grown(&all, rounds);
    model.temperature = temperature;
    made_by.clone_into(&mut model.made_by);
    model
}

/// Rounds and temperature at which the examples held back are most likely.
fn best_stop(model: &CauseModel, rest: &[&Example]) -> (usize, f64) {
    let causes = model.start.len();
    let mut scores: Vec<Vec<f64>> = rest
        .iter()
        .map(|_| model.start.iter().map(|start| start.score).collect())
        .collect();
    let mut best = (f64::NEG_INFINITY, 1, 1.0);
    for (round, trees) in model.trees.chunks(causes.max(1)).enumerate() {
        for (own, example) in scores.iter_mut().zip(rest) {
            for (score, tree) in own.iter_mut().zip(trees) {
                *score += tree.gives(&example.observed);
            }
        }
        for temperature in TEMPERATURES {
            let total: f64 = scores
                .iter()
                .zip(rest)
                .map(|(own, example)| log_true(model, own, example, temperature))
                .sum();
            if total > best.0 {
                best = (total, round + 1, temperature);
            }
        }
    }
    (best.1, best.2)
}

/// Logarithm of the probability given to the true cause.
fn log_true(model: &CauseModel, scores: &[f64], example: &Example, temperature: f64) -> f64 {
    let causes: Vec<CauseKind> = model.start.iter().map(|start| start.cause).collect();
    let shares = softmax(&causes, scores, example, temperature);
    let own = causes.iter().position(|cause| *cause == example.cause);
    let share = own.and_then(|at| shares.get(at)).copied().unwrap_or(0.0);
    libm::log(share.max(1e-9))
}

/// Probabilities of the causes; 0 for one that the engine cannot have.
fn softmax(causes: &[CauseKind], scores: &[f64], example: &Example, temperature: f64) -> Vec<f64> {
    let permitted = |at: usize| {
        causes
            .get(at)
            .is_some_and(|cause| example.permitted.contains(cause))
    };
    let highest = scores
        .iter()
        .enumerate()
        .filter(|(at, _)| permitted(*at))
        .map(|(_, score)| *score)
        .fold(f64::NEG_INFINITY, f64::max);
    let mut shares: Vec<f64> = scores
        .iter()
        .enumerate()
        .map(|(at, score)| {
            if permitted(at) {
                libm::exp((score - highest) / temperature)
            } else {
                0.0
            }
        })
        .collect();
    let total: f64 = shares.iter().sum();
    if total > 0.0 {
        for share in &mut shares {
            *share /= total;
        }
    }
    shares
}

/// Trees grown from examples, cause by cause in each round.
fn grown(examples: &[&Example], rounds: usize) -> CauseModel {
    let causes: Vec<CauseKind> = CauseKind::ALL
        .into_iter()
        .filter(|kind| examples.iter().any(|example| example.cause == *kind))
        .collect();
    let start: Vec<Start> = causes
        .iter()
        .map(|cause| {
            let count = examples.iter().filter(|e| e.cause == *cause).count();
            let share = count as f64 / examples.len().max(1) as f64;
            Start {
                cause: *cause,
                score: rounded(libm::log(share)),
            }
        })
        .collect();
    let table = Table::of(examples);
    let mut scores: Vec<Vec<f64>> = examples
        .iter()
        .map(|_| start.iter().map(|start| start.score).collect())
        .collect();
    let mut trees = Vec::new();
    for _ in 0..rounds {
        let shares: Vec<Vec<f64>> = examples
            .iter()
            .zip(&scores)
            .map(|(example, own)| softmax(&causes, own, example, 1.0))
            .collect();
        for (at, cause) in causes.iter().enumerate() {
            let pulls: Vec<Pull> = examples
                .iter()
                .zip(&shares)
                .map(|(example, shares)| {
                    let share = shares.get(at).copied().unwrap_or(0.0);
                    Pull {
                        slope: f64::from(u8::from(example.cause == *cause)) - share,
                        bend: share * (1.0 - share),
                    }
                })
                .collect();
            let mut tree = Grower::new(&table, &pulls).tree();
            tree.cause = Some(*cause);
            for (own, example) in scores.iter_mut().zip(examples) {
                if let Some(score) = own.get_mut(at) {
                    *score += tree.gives(&example.observed);
                }
            }
            trees.push(tree);
        }
    }
    CauseModel {
        start,
        trees,
        ..CauseModel::default()
    }
}

/// Five significant digits are more than the examples carry.
fn rounded(value: f64) -> f64 {
    format!("{value:.4e}").parse().unwrap_or(value)
}

/// First and second derivative of an example's log-likelihood by the score of a cause.
#[derive(Clone, Copy, Default)]
struct Pull {
    slope: f64,
    bend: f64,
}

/// The examples by the interval that each feature falls into.
struct Table {
    /// Thresholds of each feature, rising.
    cuts: Vec<Vec<f64>>,
    /// For each example and feature: how many thresholds it is above; none where not observed.
    place: Vec<[Option<u8>; Feature::COUNT]>,
}

impl Table {
    fn of(examples: &[&Example]) -> Self {
        let cuts: Vec<Vec<f64>> = (0..Feature::COUNT)
            .map(|feature| {
                let seen = examples
                    .iter()
                    .filter_map(|e| e.observed.get(feature).copied().flatten());
                cuts(seen.collect())
            })
            .collect();
        let place = examples
            .iter()
            .map(|example| {
                let mut row = [None; Feature::COUNT];
                for ((slot, seen), cuts) in row.iter_mut().zip(example.observed).zip(&cuts) {
                    *slot = seen.map(|value| {
                        u8::try_from(cuts.partition_point(|cut| *cut < value)).unwrap_or(u8::MAX)
                    });
                }
                row
            })
            .collect();
        Self { cuts, place }
    }
}

/// Thresholds with about as many examples between each two, halfway between values that differ:
/// of a feature with few values, between all of them.
fn cuts(mut seen: Vec<f64>) -> Vec<f64> {
    seen.sort_by(f64::total_cmp);
    let mut cuts: Vec<f64> = (0..CUTS)
        .filter_map(|n| {
            let below = *seen.get(n * seen.len() / CUTS)?;
            let above = *seen.get(seen.partition_point(|value| *value <= below))?;
            Some(rounded(f64::midpoint(below, above)))
        })
        .collect();
    cuts.dedup();
    cuts
}

/// A split of a leaf in two.
struct Split {
    gain: f64,
    feature: usize,
    cut: usize,
    absent_low: bool,
}

/// A leaf that may still be split.
struct Leaf {
    node: usize,
    members: Vec<usize>,
    split: Option<Split>,
}

/// Grows one tree, the best split of any leaf first.
struct Grower<'g> {
    table: &'g Table,
    pulls: &'g [Pull],
    tree: Tree,
    leaves: Vec<Leaf>,
}

impl<'g> Grower<'g> {
    fn new(table: &'g Table, pulls: &'g [Pull]) -> Self {
        let mut grower = Self {
            table,
            pulls,
            tree: Tree::default(),
            leaves: Vec::new(),
        };
        let node = grower.node();
        grower.leaf(node, (0..pulls.len()).collect());
        grower
    }

    fn tree(mut self) -> Tree {
        while self.leaves.len() < LEAVES {
            let gain = |leaf: &Leaf| leaf.split.as_ref().map_or(0.0, |split| split.gain);
            let best = self
                .leaves
                .iter()
                .enumerate()
                .filter(|(_, leaf)| leaf.split.is_some())
                .max_by(|a, b| gain(a.1).total_cmp(&gain(b.1)))
                .map(|(at, _)| at);
            let Some(at) = best else { break };
            let leaf = self.leaves.swap_remove(at);
            self.divide(leaf);
        }
        for leaf in &self.leaves {
            let sum = self.sum(&leaf.members);
            if let Some(value) = self.tree.value.get_mut(leaf.node) {
                *value = rounded(RATE * sum.slope / (sum.bend + RIDGE));
            }
        }
        self.tree
    }

    /// A new node, a leaf as yet.
    fn node(&mut self) -> usize {
        self.tree.asks.push(-1);
        self.tree.value.push(0.0);
        self.tree.low.push(0);
        self.tree.high.push(0);
        self.tree.absent_low.push(false);
        self.tree.asks.len() - 1
    }

    fn leaf(&mut self, node: usize, members: Vec<usize>) {
        let split = self.best_split(&members);
        self.leaves.push(Leaf {
            node,
            members,
            split,
        });
    }

    fn divide(&mut self, leaf: Leaf) {
        let Some(split) = leaf.split else { return };
        let (low, high): (Vec<usize>, Vec<usize>) = leaf
            .members
            .iter()
            .partition(|at| self.goes_low(**at, &split));
        let (low_node, high_node) = (self.node(), self.node());
        let cut = self
            .table
            .cuts
            .get(split.feature)
            .and_then(|cuts| cuts.get(split.cut));
        let index = |node: usize| u32::try_from(node).unwrap_or(0);
        put(
            &mut self.tree.asks,
            leaf.node,
            i32::try_from(split.feature).unwrap_or(-1),
        );
        put(&mut self.tree.value, leaf.node, cut.copied().unwrap_or(0.0));
        put(&mut self.tree.low, leaf.node, index(low_node));
        put(&mut self.tree.high, leaf.node, index(high_node));
        put(&mut self.tree.absent_low, leaf.node, split.absent_low);
        self.leaf(low_node, low);
        self.leaf(high_node, high);
    }

    fn goes_low(&self, at: usize, split: &Split) -> bool {
        match self.place(at, split.feature) {
            Some(place) => usize::from(place) <= split.cut,
            None => split.absent_low,
        }
    }

    fn place(&self, at: usize, feature: usize) -> Option<u8> {
        self.table.place.get(at)?.get(feature).copied().flatten()
    }

    fn pull(&self, at: usize) -> Pull {
        self.pulls.get(at).copied().unwrap_or_default()
    }

    fn sum(&self, members: &[usize]) -> Pull {
        let mut sum = Pull::default();
        for at in members {
            sum.add(self.pull(*at));
        }
        sum
    }

    /// The split that raises the likelihood most; none where nothing is gained.
    fn best_split(&self, members: &[usize]) -> Option<Split> {
        let whole = self.sum(members);
        let mut best: Option<Split> = None;
        for feature in 0..Feature::COUNT {
            let found = self.split_by(feature, members, whole);
            let better = |split: &Split| best.as_ref().is_none_or(|b| split.gain > b.gain);
            if let Some(split) = found.filter(better) {
                best = Some(split);
            }
        }
        best.filter(|split| split.gain > 1e-6)
    }

    fn split_by(&self, feature: usize, members: &[usize], whole: Pull) -> Option<Split> {
        let count = self.table.cuts.get(feature)?.len();
        let mut bins = vec![(Pull::default(), 0_usize); count + 1];
        let (mut absent, mut absent_count) = (Pull::default(), 0);
        for at in members {
            let bin = self
                .place(*at, feature)
                .and_then(|p| bins.get_mut(usize::from(p)));
            if let Some((sum, number)) = bin {
                sum.add(self.pull(*at));
                *number += 1;
            } else {
                absent.add(self.pull(*at));
                absent_count += 1;
            }
        }
        let seen = members.len() - absent_count;
        let (mut low, mut low_count) = (Pull::default(), 0);
        let mut best: Option<Split> = None;
        for (cut, (sum, number)) in bins.iter().take(count).enumerate() {
            low.add(*sum);
            low_count += number;
            // What was not observed goes to either side in turn; where nothing is absent, to the
            // larger one.
            let sides: &[bool] = match absent_count {
                0 if 2 * low_count >= seen => &[true],
                0 => &[false],
                _ => &[true, false],
            };
            for &absent_low in sides {
                let (mut part, mut part_count) = (low, low_count);
                if absent_low {
                    part.add(absent);
                    part_count += absent_count;
                }
                if part_count < LEAST_EXAMPLES || members.len() - part_count < LEAST_EXAMPLES {
                    continue;
                }
                let gain = part.worth() + whole.less(part).worth() - whole.worth();
                if best.as_ref().is_none_or(|b| gain > b.gain) {
                    best = Some(Split {
                        gain,
                        feature,
                        cut,
                        absent_low,
                    });
                }
            }
        }
        best
    }
}

impl Pull {
    fn add(&mut self, other: Self) {
        self.slope += other.slope;
        self.bend += other.bend;
    }

    fn less(self, other: Self) -> Self {
        Self {
            slope: self.slope - other.slope,
            bend: self.bend - other.bend,
        }
    }

    /// Twice the likelihood gained by the best step.
    fn worth(self) -> f64 {
        self.slope * self.slope / (self.bend + RIDGE)
    }
}

/// Sets an entry that is there.
fn put<T>(list: &mut [T], at: usize, value: T) {
    if let Some(slot) = list.get_mut(at) {
        *slot = value;
    }
}
