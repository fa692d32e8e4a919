//! Build-up of the peaks without a check valve: the approach to a plateau, recursively.
//!
//! `y(k) = plateau − a·ratioᵏ − b·slowᵏ`: the starter spinning up, and a small slow tail, as the
//! oil film grows. For given ratios
//! the model is linear, so its least-squares sums can be kept stroke by stroke. A bank of ratios
//! is kept side by side, each with its sums and with a first-order term for the ratios around it;
//! together, weighted by how well they fit, they give the plateau's distribution without
//! iteration, at the same cost for every stroke. Older strokes fade; a stroke that does not fit
//! weighs less (Huber 1964).

use super::moments::Moments;
use super::normal;

/// Unknowns of the linear model: plateau, fast part, its change with the ratio, slow tail.
const N: usize = 4;
/// Ratios of the bank: this many, this far apart.
const RATIOS: usize = 24;
const LOWEST: f64 = 0.02;
const APART: f64 = 0.038;
/// Slow tails of the bank: ratio, and how large they may be as a share of the prior's. The last
/// stands for hardly any.
const TAILS: [(f64, f64); 4] = [(0.7, 1.0), (0.84, 1.0), (0.93, 1.0), (0.84, 0.03)];
const PAIRS: usize = RATIOS * TAILS.len();
/// Each stroke weighs this much of the next one.
const FADE: f64 = 0.92;
/// The prior of the scatter weighs as much as this many strokes.
const SCATTER_STROKES: f64 = 4.0;
/// Huber's bound: a stroke further off than this many standard deviations weighs less.
const HUBER: f64 = 2.5;
/// Strokes that may have been missed between two.
const MOST_STEPS: u32 = 20;

/// What is expected of the build-up before the first stroke; shares of the level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Prior {
    /// How far the fast part starts from the plateau: pump-up, or the starter spinning up
    /// (standard deviation).
    pub(super) fast: f64,
    /// How far the slow tail starts from the plateau (standard deviation).
    pub(super) slow: f64,
    /// The ratio's density falls off like this power of (1 − ratio).
    pub(super) brisk: f64,
    /// How strokes scatter beyond the sensor's noise (standard deviation).
    pub(super) scatter: f64,
}

impl Prior {
    /// No check valve, turned by a starter: from the second stroke on all are as high as each
    /// other, but for a throttle that is shut.
    pub(super) const BY_STARTER: Self = Self {
        fast: 0.1,
        slow: 0.001,
        brisk: 20.0,
        scatter: 0.0008,
    };
    /// No check valve, turned by hand: the first stroke is nearly as high as the others.
    pub(super) const BY_HAND: Self = Self {
        fast: 0.15,
        slow: 0.003,
        brisk: 8.0,
        scatter: 0.003,
    };
    /// Tops of kicks or pulls behind a check valve.
    pub(super) const TOPS: Self = Self {
        fast: 0.5,
        slow: 0.003,
        brisk: 1.0,
        scatter: 0.004,
    };
}

/// Weighted sums of one pair of ratios over the basis 1, e = ratioᵏ, de/dratio, f = slowᵏ.
#[derive(Clone, Copy, Debug)]
struct Sums {
    /// The basis at the newest stroke.
    now: [f64; N],
    matrix: [[f64; N]; N],
    rhs: [f64; N],
}

/// What the bank says about the plateau, in the unit of the strokes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Prospect {
    pub(super) plateau: f64,
    /// Standard uncertainty of the plateau.
    pub(super) standard: f64,
    pub(super) ratio: f64,
    pub(super) ratio_standard: f64,
    /// What is left to climb after the newest stroke.
    pub(super) left: f64,
    /// Standard deviation of a stroke about the curve.
    pub(super) scatter: f64,
    /// Weighted number of strokes.
    pub(super) weight: f64,
}

/// The recursive fit.
#[derive(Clone, Debug)]
pub(super) struct Bank {
    sums: Vec<Sums>,
    n: f64,
    yy: f64,
    strokes: u32,
    /// First stroke; sums are of differences to it, which keeps them exact.
    origin: f64,
    prior: Prior,
    prospect: Option<Prospect>,
}

/// One pair's answer.
#[derive(Clone, Copy, Debug)]
struct Answer {
    likelihood: f64,
    plateau: f64,
    variance: f64,
    scatter: f64,
    left: f64,
    ratio: f64,
}

/// Prior variance (of the scatter) and ridges of one solution.
#[derive(Clone, Copy, Debug)]
struct Scale {
    variance: f64,
    /// Of each slow tail.
    ridges: [Ridges; TAILS.len()],
    dof: f64,
}

/// Ridges for e, its derivative and f, and the logarithm of their product.
#[derive(Clone, Copy, Debug)]
struct Ridges {
    each: [f64; 3],
    log: f64,
}

impl Ridges {
    fn new(each: [f64; 3]) -> Self {
        Self {
            each,
            log: each.iter().map(|ridge| libm::log(*ridge)).sum(),
        }
    }
}

/// Ratio, and tail with its share.
fn pair(index: usize) -> (f64, (f64, f64)) {
    let ratio = LOWEST + APART * (index / TAILS.len()) as f64;
    (ratio, TAILS[index % TAILS.len()])
}

impl Bank {
    pub(super) fn new(prior: Prior) -> Self {
        let sums = Sums {
            now: [1.0, 1.0, 0.0, 1.0],
            matrix: [[0.0; N]; N],
            rhs: [0.0; N],
        };
        Self {
            sums: vec![sums; PAIRS],
            n: 0.0,
            yy: 0.0,
            strokes: 0,
            origin: 0.0,
            prior,
            prospect: None,
        }
    }

    /// The same without strokes.
    pub(super) fn renew(&self) -> Self {
        Self::new(self.prior)
    }

    /// What to expect, now that more is known of who turns the engine.
    pub(super) fn expect(&mut self, prior: Prior) {
        self.prior = prior;
    }

    /// Takes the next stroke. `steps` is 1, or more where strokes were missed; `standard` its
    /// standard uncertainty; `trust` between 0 and 1 weighs it down.
    pub(super) fn push(&mut self, y: f64, standard: f64, steps: u32, trust: f64) {
        let steps = if self.strokes == 0 {
            self.origin = y;
            0
        } else {
            steps.clamp(1, MOST_STEPS)
        };
        self.strokes += 1;
        let weight = trust * self.fit_of(y, steps);
        let newest = y;
        let y = y - self.origin;
        for (index, sums) in self.sums.iter_mut().enumerate() {
            let (ratio, (slow, _)) = pair(index);
            sums.step(ratio, slow, steps);
            sums.add(y, weight);
        }
        self.n = FADE * self.n + weight;
        self.yy = FADE * self.yy + weight * y * y;
        self.prospect = self.solve(newest, standard);
    }

    /// Huber's weight of a stroke against what the bank foresaw.
    fn fit_of(&self, y: f64, steps: u32) -> f64 {
        let Some(before) = self.prospect.filter(|_| self.strokes > 4) else {
            return 1.0;
        };
        let mut left = before.left;
        for _ in 0..steps {
            left *= before.ratio;
        }
        let off = (y - (before.plateau - left)).abs();
        let variance = before.scatter * before.scatter + before.standard * before.standard;
        let allowed = HUBER * variance.sqrt();
        if off <= allowed { 1.0 } else { allowed / off }
    }

    /// How many strokes went in.
    pub(super) fn strokes(&self) -> u32 {
        self.strokes
    }

    /// What the strokes so far say; none before the second.
    pub(super) fn prospect(&self) -> Option<Prospect> {
        self.prospect
    }

    fn solve(&self, newest: f64, standard: f64) -> Option<Prospect> {
        let size = newest.abs().max(self.origin.abs());
        let scatter = self.prior.scatter * size;
        let variance = scatter * scatter + standard * standard;
        if self.strokes < 2 || self.n <= 0.0 || variance <= 0.0 {
            return None;
        }
        let ridge = |reach: f64| variance / (reach * reach * size * size);
        let fast = ridge(self.prior.fast);
        // Ratios between those of the bank are uniform over one spacing.
        let between = ridge(self.prior.fast * APART / 12.0_f64.sqrt());
        let slow = ridge(self.prior.slow);
        let scale = Scale {
            variance,
            ridges: TAILS.map(|(_, share)| Ridges::new([fast, between, slow / (share * share)])),
            dof: SCATTER_STROKES + (self.n - 2.0).max(0.0),
        };
        let mut mixture = Mixture::default();
        for (index, of_ratio) in self.sums.chunks_exact(TAILS.len()).enumerate() {
            let ratio = LOWEST + APART * index as f64;
            let brisk = self.prior.brisk * libm::log(1.0 - ratio);
            for (sums, ridges) in of_ratio.iter().zip(&scale.ridges) {
                if let Some(answer) = self.answer(sums, (ratio, brisk), ridges, &scale) {
                    mixture.push(&answer);
                }
            }
        }
        mixture.finish(self.origin, self.n, scale.dof)
    }

    /// Ridge regression for one pair (priors on the amplitudes); a ratio comes with the logarithm
    /// of its density.
    fn answer(
        &self,
        sums: &Sums,
        (ratio, brisk): (f64, f64),
        ridges: &Ridges,
        scale: &Scale,
    ) -> Option<Answer> {
        let mut matrix = sums.matrix;
        for (i, ridge) in ridges.each.iter().enumerate() {
            matrix[i + 1][i + 1] += ridge;
        }
        let factor = normal::factor(&matrix)?;
        let [plateau, a, c, b] = factor.solve(&sums.rhs);
        let explained: f64 = [plateau, a, c, b]
            .iter()
            .zip(&sums.rhs)
            .map(|(x, r)| x * r)
            .sum();
        let rss = (self.yy - explained).max(0.0);
        let scatter = (SCATTER_STROKES * scale.variance + rss) / scale.dof;
        let off = if a.abs() > 0.0 {
            (c / a).clamp(-APART, APART)
        } else {
            0.0
        };
        Some(Answer {
            likelihood: brisk
                - 0.5
                    * ((SCATTER_STROKES + self.n)
                        * libm::log1p(rss / (SCATTER_STROKES * scale.variance))
                        + factor.log_determinant
                        - ridges.log),
            plateau,
            variance: scatter * factor.solve(&[1.0, 0.0, 0.0, 0.0])[0],
            scatter,
            left: -(a * sums.now[1] + c * sums.now[2] + b * sums.now[3]),
            ratio: ratio + off,
        })
    }
}

impl Sums {
    /// Moves on by some strokes.
    fn step(&mut self, ratio: f64, slow: f64, steps: u32) {
        for _ in 0..steps {
            let [one, e, slope, f] = self.now;
            self.now = [one, e * ratio, slope * ratio + e, f * slow];
        }
    }

    fn add(&mut self, y: f64, weight: f64) {
        for i in 0..N {
            for j in 0..=i {
                self.matrix[i][j] = FADE * self.matrix[i][j] + weight * self.now[i] * self.now[j];
            }
            self.rhs[i] = FADE * self.rhs[i] + weight * self.now[i] * y;
        }
    }
}

/// The bank's answers, weighted by their likelihood.
#[derive(Clone, Copy, Debug, Default)]
struct Mixture {
    best: Option<f64>,
    plateau: Moments,
    ratio: Moments,
    within: Moments,
    left: Moments,
    scatter: Moments,
}

impl Mixture {
    fn push(&mut self, answer: &Answer) {
        let best = *self.best.get_or_insert(answer.likelihood);
        // Likelihoods are relative to the first; far better ones start anew.
        let relative = answer.likelihood - best;
        if relative > 50.0 {
            *self = Self {
                best: Some(answer.likelihood),
                ..Self::default()
            };
            self.take(answer, 1.0);
        } else {
            self.take(answer, libm::exp(relative));
        }
    }

    fn take(&mut self, answer: &Answer, weight: f64) {
        self.plateau.push(answer.plateau, weight);
        self.ratio.push(answer.ratio, weight);
        self.within.push(answer.variance, weight);
        self.left.push(answer.left, weight);
        self.scatter.push(answer.scatter, weight);
    }

    fn finish(&self, origin: f64, weight: f64, dof: f64) -> Option<Prospect> {
        if self.plateau.weight() <= 0.0 || !self.plateau.mean().is_finite() {
            return None;
        }
        // A scatter known from few strokes only widens the tails (Student).
        let tails = dof / (dof - 2.0).max(0.5);
        Some(Prospect {
            plateau: origin + self.plateau.mean(),
            standard: (tails * self.within.mean() + self.plateau.variance()).sqrt(),
            ratio: self.ratio.mean().clamp(0.0, 1.0),
            ratio_standard: libm::hypot(self.ratio.variance().sqrt(), APART / 12.0_f64.sqrt()),
            left: self.left.mean(),
            scatter: self.scatter.mean().sqrt(),
            weight,
        })
    }
}
