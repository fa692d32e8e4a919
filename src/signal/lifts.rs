//! Build-up behind a check valve: what a stroke made of the level that it found.
//!
//! The gas of one stroke mixes with what is held, so a stroke that finds the level `h` lifts it
//! to `plateau − ratio·(plateau − h)`: a straight line of the new level over the level found.
//! Where the line meets equality is the plateau. Unlike a curve over the count of strokes it
//! stays true when the held level has fallen before a stroke (hot gas that cools, a leak, a
//! pause) and when strokes were missed. From exact levels two strokes give it, as Aitken's
//! extrapolation does; a bank of ratios, weighted by how well each fits and by what is usual,
//! gives the plateau's distribution at the same small cost for every stroke.

use super::build_up::Prospect;
use super::moments::Moments;

/// Ratios of the bank: this many, from the lowest on, this far apart.
const RATIOS: usize = 48;
const LOWEST: f64 = 0.01;
const APART: f64 = 0.0185;
/// The ratio's prior density falls off like this power of (1 − ratio): volumes behind the valve
/// much larger than the clearance are rare.
const BRISK: f64 = 1.5;
/// A stroke that lifts far tells less: ratio and strength change along the build-up. Standard
/// deviation as a share of the lift.
const PER_LIFT: f64 = 0.02;
/// The first stroke begins anywhere in the cycle, from standstill: standard deviation as a share of
/// what the second one makes.
const FIRST: f64 = 0.14;
/// Each stroke weighs this much of the next one.
const FADE: f64 = 0.92;
/// The prior of the scatter weighs as much as this many strokes.
const SCATTER_STROKES: f64 = 3.0;
/// A stroke further off than this many standard deviations weighs less (Huber 1964).
const HUBER: f64 = 2.5;

/// A stroke: the level found, the level made, and its standard uncertainty.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Lift {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) standard: f64,
    /// Between 0 and 1, weighs the stroke down.
    pub(super) trust: f64,
}

/// Weighted sums of levels made (y) over levels found (x), as differences to the first level.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    weight: f64,
    n: f64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

/// The recursive fit.
#[derive(Clone, Debug, Default)]
pub(super) struct Lifts {
    sums: Sums,
    strokes: u32,
    /// The first stroke waits for the second, which shows how high it might have been.
    first: Option<Lift>,
    origin: f64,
    prospect: Option<Prospect>,
}

impl Lifts {
    pub(super) fn strokes(&self) -> u32 {
        self.strokes
    }

    /// What the strokes so far say; none before the second.
    pub(super) fn prospect(&self) -> Option<Prospect> {
        self.prospect
    }

    /// Takes the next stroke; `scatter` is how strokes scatter beyond the sensor's noise, as a
    /// share of the level.
    pub(super) fn push(&mut self, lift: Lift, scatter: f64) {
        if self.strokes == 0 {
            self.origin = lift.to;
        }
        self.strokes += 1;
        let least = (scatter * lift.to).abs();
        let base = least * least + lift.standard * lift.standard;
        let rise = PER_LIFT * (lift.to - lift.from);
        let variance = base + rise * rise;
        if variance <= 0.0 {
            return;
        }
        if self.strokes == 1 {
            self.first = Some(lift);
            return;
        }
        if let Some(first) = self.first.take() {
            let doubt = FIRST * lift.to;
            let trust = lift.trust * variance / (variance + doubt * doubt);
            self.take(&first, trust, variance);
        }
        let trust = lift.trust * self.fit_of(&lift, variance);
        self.take(&lift, trust, variance);
        self.prospect = self.solve(lift.to, base);
    }

    fn take(&mut self, lift: &Lift, trust: f64, variance: f64) {
        let (x, y) = (lift.from - self.origin, lift.to - self.origin);
        self.sums.push(x, y, trust / variance, trust);
    }

    /// Huber's weight of a stroke against what was foreseen.
    fn fit_of(&self, lift: &Lift, variance: f64) -> f64 {
        let Some(before) = self.prospect.filter(|_| self.strokes > 3) else {
            return 1.0;
        };
        let foreseen = before.plateau - before.ratio * (before.plateau - lift.from);
        let doubt = variance + (1.0 - before.ratio) * before.standard * before.standard;
        let allowed = HUBER * doubt.sqrt();
        let off = (lift.to - foreseen).abs();
        if off <= allowed { 1.0 } else { allowed / off }
    }

    fn solve(&self, newest: f64, base: f64) -> Option<Prospect> {
        let s = &self.sums;
        if s.weight <= 0.0 {
            return None;
        }
        let dof = SCATTER_STROKES + (s.n - 2.0).max(0.0);
        let (x, y) = (s.x / s.weight, s.y / s.weight);
        let answer = |ratio: f64| {
            let fixed = y - ratio * x;
            // Sum of squares about the line of this ratio.
            let squares =
                s.yy - 2.0 * ratio * s.xy + ratio * ratio * s.xx - s.weight * fixed * fixed;
            let squares = squares.max(0.0);
            let likelihood = BRISK * libm::log(1.0 - ratio)
                - 0.5 * (SCATTER_STROKES + s.n) * libm::log1p(squares / SCATTER_STROKES);
            (
                likelihood,
                fixed / (1.0 - ratio),
                (SCATTER_STROKES + squares) / dof,
            )
        };
        let ratios = (0..RATIOS).map(|i| LOWEST + APART * i as f64);
        let best = ratios
            .clone()
            .map(|ratio| answer(ratio).0)
            .fold(f64::NEG_INFINITY, f64::max);
        let (mut plateau, mut ratio, mut within, mut scatter) = (
            Moments::default(),
            Moments::default(),
            Moments::default(),
            Moments::default(),
        );
        for r in ratios {
            let (likelihood, level, excess) = answer(r);
            let weight = libm::exp(likelihood - best);
            plateau.push(level, weight);
            ratio.push(r, weight);
            let own = excess / (s.weight * (1.0 - r) * (1.0 - r));
            within.push(own, weight);
            scatter.push(excess * base, weight);
        }
        if !plateau.mean().is_finite() {
            return None;
        }
        let level = self.origin + plateau.mean();
        // A scatter known from few strokes widens the tails (Student).
        let tails = dof / (dof - 2.0).max(0.5);
        Some(Prospect {
            plateau: level,
            standard: (tails * within.mean() + plateau.variance()).sqrt(),
            ratio: ratio.mean(),
            ratio_standard: libm::hypot(ratio.variance().sqrt(), APART / 12.0_f64.sqrt()),
            left: level - newest,
            scatter: scatter.mean().sqrt(),
            weight: (s.weight * base).max(1.0),
        })
    }
}

impl Sums {
    fn push(&mut self, x: f64, y: f64, weight: f64, trust: f64) {
        let Self {
            weight: w,
            n,
            x: sx,
            y: sy,
            xx,
            xy,
            yy,
        } = self;
        for (sum, new) in [
            (w, weight),
            (n, trust),
            (sx, weight * x),
            (sy, weight * y),
            (xx, weight * x * x),
            (xy, weight * x * y),
            (yy, weight * y * y),
        ] {
            *sum = FADE * *sum + new;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Strokes towards 1000 kPa with this ratio; between them the level falls by `fallen` of itself.
    fn after(ratio: f64, fallen: f64, strokes: u32) -> Prospect {
        let (mut lifts, mut held) = (Lifts::default(), 0.0);
        for _ in 0..strokes {
            let to = 1e6 - ratio * (1e6 - held);
            let lift = Lift {
                from: held,
                to,
                standard: 200.0,
                trust: 1.0,
            };
            lifts.push(lift, 0.0008);
            held = to * (1.0 - fallen);
        }
        lifts.prospect().unwrap()
    }

    /// Isothermal mixing of the gas of one stroke with what is held: p(k) = p∞·(1 − ρᵏ), with
    /// ρ = V/(V + Vc). Ratios of 5, 10, 20 and 30 cm³ behind the valve, clearance 55.6 cm³.
    #[test]
    fn pump_up_leads_to_its_plateau() {
        for ratio in [0.083, 0.153, 0.265, 0.351] {
            let prospect = after(ratio, 0.0, 6);
            assert!((prospect.plateau / 1e6 - 1.0).abs() < 0.002, "{prospect:?}");
            assert!((prospect.plateau - 1e6).abs() < 2.0 * prospect.standard);
        }
    }

    /// A level that falls by 2 % before every stroke never comes to the plateau, and still shows
    /// where it is.
    #[test]
    fn a_level_that_falls_between_strokes_shows_the_plateau() {
        let prospect = after(0.3, 0.02, 8);
        assert!((prospect.plateau / 1e6 - 1.0).abs() < 0.003, "{prospect:?}");
        assert!(prospect.left > 0.005 * 1e6, "{prospect:?}");
        assert!((prospect.ratio - 0.3).abs() < 0.1, "{prospect:?}");
    }

    /// One stroke leads nowhere yet.
    #[test]
    fn one_stroke_gives_no_prospect() {
        let mut lifts = Lifts::default();
        let lift = Lift {
            from: 0.0,
            to: 1e6,
            standard: 200.0,
            trust: 1.0,
        };
        lifts.push(lift, 0.0008);
        assert!(lifts.prospect().is_none());
    }
}
