//! Build-up: the geometric approach `y(k) = plateau − a·ratioᵏ`, recursively.
//!
//! For a given ratio the model is linear, so its least-squares sums can be kept stroke by stroke.
//! A bank of ratios is kept side by side, each with its sums; together they give the plateau's
//! distribution without iteration, at the same cost for every stroke. Older strokes fade, so
//! that a starter spinning up is forgotten; a stroke that does not fit weighs less (Huber).

/// Ratios in the bank.
const RATIOS: usize = 40;
const LOWEST: f64 = 0.02;
const HIGHEST: f64 = 0.96;
/// Each stroke weighs this much of the next one.
const FADE: f64 = 0.88;
/// The approach may start this far from the plateau, as a share of it (prior, standard
/// deviation).
const REACH: f64 = 0.7;
/// Strokes scatter by this share of the level beyond the sensor's noise (prior), …
const SCATTER: f64 = 0.003;
/// … which weighs as much as this many strokes.
const SCATTER_STROKES: f64 = 3.0;
/// Huber's bound: a stroke further off than this many standard deviations weighs less.
const HUBER: f64 = 2.0;

/// Weighted sums of one ratio: of 1, e, e², y, e·y and y², with e = ratioᵏ.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    /// ratioᵏ for the newest stroke.
    power: f64,
    n: f64,
    e: f64,
    ee: f64,
    y: f64,
    ey: f64,
    yy: f64,
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
    sums: [Sums; RATIOS],
    strokes: u32,
    /// First stroke; sums are of differences to it, which keeps them exact.
    origin: f64,
    prospect: Option<Prospect>,
}

fn ratio(index: usize) -> f64 {
    LOWEST + (HIGHEST - LOWEST) * index as f64 / (RATIOS - 1) as f64
}

impl Default for Bank {
    fn default() -> Self {
        Self {
            sums: [Sums {
                power: 1.0,
                ..Sums::default()
            }; RATIOS],
            strokes: 0,
            origin: 0.0,
            prospect: None,
        }
    }
}

impl Bank {
    /// Takes the next stroke. `steps` is 1, or more where strokes were missed; `standard` its
    /// standard uncertainty; `trust` between 0 and 1 weighs it down.
    pub(super) fn push(&mut self, y: f64, standard: f64, steps: u32, trust: f64) {
        if self.strokes == 0 {
            self.origin = y;
        }
        self.strokes += 1;
        let weight = trust * self.fit_of(y, steps);
        let y = y - self.origin;
        for (index, sums) in self.sums.iter_mut().enumerate() {
            for _ in 0..steps.min(20) {
                sums.power *= ratio(index);
            }
            let e = sums.power;
            for (sum, value) in [
                (&mut sums.n, 1.0),
                (&mut sums.e, e),
                (&mut sums.ee, e * e),
                (&mut sums.y, y),
                (&mut sums.ey, e * y),
                (&mut sums.yy, y * y),
            ] {
                *sum = FADE * *sum + weight * value;
            }
        }
        self.prospect = self.solve(y + self.origin, standard);
    }

    /// Huber weight of a stroke against what the bank foresaw.
    fn fit_of(&self, y: f64, steps: u32) -> f64 {
        let Some(before) = self.prospect.filter(|_| self.strokes > 4) else {
            return 1.0;
        };
        let mut left = before.left;
        for _ in 0..steps.min(20) {
            left *= before.ratio;
        }
        let off = (y - (before.plateau - left)).abs();
        let allowed =
            HUBER * (before.scatter * before.scatter + before.standard * before.standard).sqrt();
        if off <= allowed { 1.0 } else { allowed / off }
    }

    /// What the strokes so far say; none before the second.
    pub(super) fn prospect(&self) -> Option<Prospect> {
        self.prospect
    }

    fn solve(&self, newest: f64, standard: f64) -> Option<Prospect> {
        let n = self.sums[0].n;
        if self.strokes < 2 || n <= 0.0 {
            return None;
        }
        let size = newest.abs().max(self.origin.abs());
        let prior_variance = SCATTER * SCATTER * size * size + standard * standard;
        if prior_variance <= 0.0 {
            return None;
        }
        let dof = SCATTER_STROKES + (n - 2.0).max(0.0);
        let mut each = [(0.0, 0.0, 0.0, 0.0); RATIOS];
        let mut best = f64::NEG_INFINITY;
        for (slot, sums) in each.iter_mut().zip(&self.sums) {
            let ridge = prior_variance / (REACH * REACH * size * size);
            let ee = sums.ee + ridge;
            let determinant = n * ee - sums.e * sums.e;
            if determinant <= 0.0 {
                continue;
            }
            // y = plateau + slope·e, slope = −a.
            let plateau = (ee * sums.y - sums.e * sums.ey) / determinant;
            let slope = (n * sums.ey - sums.e * sums.y) / determinant;
            let rss = (sums.yy - plateau * sums.y - slope * sums.ey).max(0.0);
            let scatter = (SCATTER_STROKES * prior_variance + rss) / dof;
            let likelihood = -0.5
                * (SCATTER_STROKES + n)
                * libm::log1p(rss / (SCATTER_STROKES * prior_variance))
                - 0.5 * libm::log(determinant / ridge);
            best = best.max(likelihood);
            *slot = (likelihood, plateau, scatter * ee / determinant, scatter);
        }
        self.mix(&each, best, dof)
    }

    /// Mean and variance over the bank.
    fn mix(&self, each: &[(f64, f64, f64, f64)], best: f64, dof: f64) -> Option<Prospect> {
        let mut total = 0.0;
        let mut plateau = Moments::default();
        let mut ratios = Moments::default();
        let (mut within, mut left, mut scatter) = (0.0, 0.0, 0.0);
        for (index, (&(likelihood, p, variance, s), sums)) in
            each.iter().zip(&self.sums).enumerate()
        {
            if variance <= 0.0 {
                continue;
            }
            let weight = libm::exp(likelihood - best);
            total += weight;
            plateau.push(p, weight);
            ratios.push(ratio(index), weight);
            within += weight * variance;
            scatter += weight * s;
            let slope = (sums.ey - p * sums.e) / sums.ee.max(f64::MIN_POSITIVE);
            left += weight * -slope * sums.power;
        }
        if total <= 0.0 || !total.is_finite() {
            return None;
        }
        // A scatter known from few strokes only widens the tails (Student).
        let tails = dof / (dof - 2.0).max(0.5);
        let variance = tails * within / total + plateau.variance();
        Some(Prospect {
            plateau: self.origin + plateau.mean,
            standard: variance.sqrt(),
            ratio: ratios.mean,
            ratio_standard: ratios.variance().sqrt(),
            left: left / total,
            scatter: (scatter / total).sqrt(),
            weight: self.sums[0].n,
        })
    }
}

/// Weighted mean and variance (West 1979).
#[derive(Clone, Copy, Debug, Default)]
struct Moments {
    weight: f64,
    mean: f64,
    squares: f64,
}

impl Moments {
    fn push(&mut self, value: f64, weight: f64) {
        if weight <= 0.0 {
            return;
        }
        self.weight += weight;
        let off = value - self.mean;
        self.mean += off * weight / self.weight;
        self.squares += weight * off * (value - self.mean);
    }
    fn variance(&self) -> f64 {
        if self.weight > 0.0 {
            (self.squares / self.weight).max(0.0)
        } else {
            0.0
        }
    }
}
