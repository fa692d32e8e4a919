//! Build-up: the geometric approach to a plateau, recursively.
//!
//! `y(k) = plateau − a·ratioᵏ − b·slowᵏ`: the check valve's pump-up (or the starter spinning up),
//! and a small slow tail, as the gas in the hose warms or the oil film grows. For given ratios
//! the model is linear, so its least-squares sums can be kept stroke by stroke. A bank of ratios
//! is kept side by side, each with its sums; together, weighted by how well they fit, they give
//! the plateau's distribution without iteration, at the same cost for every stroke. Older strokes
//! fade; a stroke that does not fit weighs less (Huber 1964).

use super::moments::Moments;

const RATIOS: [f64; 16] = [
    0.02, 0.06, 0.1, 0.15, 0.2, 0.26, 0.32, 0.38, 0.44, 0.5, 0.56, 0.62, 0.68, 0.75, 0.82, 0.9,
];
const SLOW: [f64; 3] = [0.7, 0.84, 0.93];
const PAIRS: usize = RATIOS.len() * SLOW.len();
/// Each stroke weighs this much of the next one.
const FADE: f64 = 0.92;
/// The prior of the scatter weighs as much as this many strokes.
const SCATTER_STROKES: f64 = 4.0;
/// Kicks and pulls scatter by this share of the level (prior).
const BURST_SCATTER: f64 = 0.006;
/// Huber's bound: a stroke further off than this many standard deviations weighs less.
const HUBER: f64 = 2.5;
/// Strokes that may have been missed between two.
const MOST_STEPS: u32 = 20;

/// How far the approach may start from the plateau, as shares of it (standard deviations of the
/// prior).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reach {
    /// The fast part: pump-up, or the starter spinning up.
    pub(super) fast: f64,
    /// The slow tail.
    pub(super) slow: f64,
    /// The prior of the ratio falls off like this power of (1 − ratio).
    pub(super) brisk: f64,
    /// Strokes scatter by this share of the level beyond the sensor's noise (prior).
    pub(super) scatter: f64,
}

impl Reach {
    /// Behind a check valve: builds up from nothing.
    pub(super) const HOLDING: Self = Self {
        fast: 0.7,
        slow: 0.03,
        brisk: 1.0,
        scatter: 0.0008,
    };
    /// No check valve: the first stroke is nearly as high as the others.
    pub(super) const FOLLOWING: Self = Self {
        fast: 0.15,
        slow: 0.003,
        brisk: 2.0,
        scatter: 0.0008,
    };
}

/// Weighted sums of one pair of ratios, with e = ratioᵏ and f = slowᵏ.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    /// e and f of the newest stroke.
    now: [f64; 2],
    e: f64,
    f: f64,
    ee: f64,
    ef: f64,
    ff: f64,
    ey: f64,
    fy: f64,
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
    sums: [Sums; PAIRS],
    n: f64,
    y: f64,
    yy: f64,
    strokes: u32,
    /// First stroke; sums are of differences to it, which keeps them exact.
    origin: f64,
    reach: Reach,
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
}

fn pair(index: usize) -> (f64, f64) {
    (RATIOS[index / SLOW.len()], SLOW[index % SLOW.len()])
}

impl Bank {
    pub(super) fn new(reach: Reach) -> Self {
        let sums = Sums {
            now: [1.0, 1.0],
            ..Sums::default()
        };
        Self {
            sums: [sums; PAIRS],
            n: 0.0,
            y: 0.0,
            yy: 0.0,
            strokes: 0,
            origin: 0.0,
            reach,
            prospect: None,
        }
    }

    /// The same without strokes.
    pub(super) fn renew(&self) -> Self {
        Self::new(self.reach)
    }

    /// The same without strokes, for kicks and pulls: nobody's strength is the same twice.
    pub(super) fn for_bursts(&self) -> Self {
        Self::new(Reach {
            scatter: BURST_SCATTER,
            ..self.reach
        })
    }

    /// Takes the next stroke. `steps` is 1, or more where strokes were missed; `standard` its
    /// standard uncertainty; `trust` between 0 and 1 weighs it down.
    pub(super) fn push(&mut self, y: f64, standard: f64, steps: u32, trust: f64) {
        let steps = if self.strokes == 0 {
            0
        } else {
            steps.clamp(1, MOST_STEPS)
        };
        if self.strokes == 0 {
            self.origin = y;
        }
        self.strokes += 1;
        let weight = trust * self.fit_of(y, steps);
        let newest = y;
        let y = y - self.origin;
        for (index, sums) in self.sums.iter_mut().enumerate() {
            let (ratio, slow) = pair(index);
            for _ in 0..steps {
                sums.now[0] *= ratio;
                sums.now[1] *= slow;
            }
            let [e, f] = sums.now;
            for (sum, value) in [
                (&mut sums.e, e),
                (&mut sums.f, f),
                (&mut sums.ee, e * e),
                (&mut sums.ef, e * f),
                (&mut sums.ff, f * f),
                (&mut sums.ey, e * y),
                (&mut sums.fy, f * y),
            ] {
                *sum = FADE * *sum + weight * value;
            }
        }
        self.n = FADE * self.n + weight;
        self.y = FADE * self.y + weight * y;
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
        let scatter = self.reach.scatter * size;
        let prior = scatter * scatter + standard * standard;
        if self.strokes < 2 || self.n <= 0.0 || prior <= 0.0 {
            return None;
        }
        let ridge = |reach: f64| prior / (reach * reach * size * size);
        let (reach, tail) = (ridge(self.reach.fast), ridge(self.reach.slow));
        let dof = SCATTER_STROKES + (self.n - 2.0).max(0.0);
        let mut each = self
            .sums
            .map(|sums| self.answer(&sums, prior, reach, tail, dof));
        for (index, answer) in each.iter_mut().enumerate() {
            if let Some(answer) = answer {
                answer.likelihood += self.reach.brisk * libm::log(1.0 - pair(index).0);
            }
        }
        self.mix(&each, dof)
    }

    /// Ridge regression of y on 1, e and f for one pair (priors on the two amplitudes).
    fn answer(&self, s: &Sums, prior: f64, reach: f64, tail: f64, dof: f64) -> Option<Answer> {
        let (n, ee, ff) = (self.n, s.ee + reach, s.ff + tail);
        let c00 = ee * ff - s.ef * s.ef;
        let c01 = s.f * s.ef - s.e * ff;
        let c02 = s.e * s.ef - s.f * ee;
        let determinant = n * c00 + s.e * c01 + s.f * c02;
        if determinant.is_nan() || determinant <= 0.0 {
            return None;
        }
        let c11 = n * ff - s.f * s.f;
        let c12 = s.e * s.f - n * s.ef;
        let c22 = n * ee - s.e * s.e;
        let plateau = (c00 * self.y + c01 * s.ey + c02 * s.fy) / determinant;
        let a = (c01 * self.y + c11 * s.ey + c12 * s.fy) / determinant;
        let b = (c02 * self.y + c12 * s.ey + c22 * s.fy) / determinant;
        let rss = (self.yy - plateau * self.y - a * s.ey - b * s.fy).max(0.0);
        let scatter = (SCATTER_STROKES * prior + rss) / dof;
        Some(Answer {
            likelihood: -0.5
                * ((SCATTER_STROKES + n) * libm::log1p(rss / (SCATTER_STROKES * prior))
                    + libm::log(determinant / (reach * tail))),
            plateau,
            variance: scatter * c00 / determinant,
            scatter,
            left: -(a * s.now[0] + b * s.now[1]),
        })
    }

    /// Mean and variance over the bank.
    fn mix(&self, each: &[Option<Answer>; PAIRS], dof: f64) -> Option<Prospect> {
        let best = each
            .iter()
            .flatten()
            .map(|answer| answer.likelihood)
            .fold(f64::NEG_INFINITY, f64::max);
        let mut plateau = Moments::default();
        let mut ratios = Moments::default();
        let mut within = Moments::default();
        let mut left = Moments::default();
        let mut scatter = Moments::default();
        for (index, answer) in each.iter().enumerate() {
            let Some(answer) = answer else { continue };
            let weight = libm::exp(answer.likelihood - best);
            plateau.push(answer.plateau, weight);
            ratios.push(pair(index).0, weight);
            within.push(answer.variance, weight);
            left.push(answer.left, weight);
            scatter.push(answer.scatter, weight);
        }
        if plateau.weight() <= 0.0 || !plateau.mean().is_finite() {
            return None;
        }
        // A scatter known from few strokes only widens the tails (Student).
        let tails = dof / (dof - 2.0).max(0.5);
        let variance = tails * within.mean() + plateau.variance();
        Some(Prospect {
            plateau: self.origin + plateau.mean(),
            standard: variance.sqrt(),
            ratio: ratios.mean(),
            ratio_standard: ratios.variance().sqrt(),
            left: left.mean(),
            scatter: scatter.mean().sqrt(),
            weight: self.n,
        })
    }
}
