//! The geometric approach fitted to all steps of a run at once: what the report shows as the
//! build-up. (The decision rests on the recursive fit, which also knows what is usual.)
//!
//! Least squares of `y(k) = plateau + slope·ratioᵏ` in all three unknowns, by Levenberg's damped
//! Gauss-Newton steps; standard errors from the residuals, `s²·(JᵀJ)⁻¹`.

use super::normal;

/// A step of the build-up: how many strokes after the first, and the level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Strokes after the first.
    pub k: f64,
    /// Peak or level, in any unit.
    pub level: f64,
}

/// The fitted curve, in the unit of the levels; all uncertainties are standard errors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Curve {
    /// The level converged to.
    pub plateau: f64,
    /// Standard error of the plateau.
    pub plateau_standard: f64,
    /// What is left after a stroke, as a share of what was left before it.
    pub ratio: f64,
    /// Standard error of the ratio.
    pub ratio_standard: f64,
    /// Level of the fitted curve at the first stroke.
    pub first: f64,
}

const MOST_ROUNDS: usize = 200;
/// A ratio above this is a straight line.
const STRAIGHT: f64 = 0.985;
/// Done when the ratio moves by less than this.
const STILL: f64 = 1e-12;

/// Fits the curve, beginning at a guess of the ratio; none from fewer than four steps, or where
/// the steps do not follow such a curve (constant, linear, growing).
pub fn fit(steps: &[Step], guess: f64) -> Option<Curve> {
    let n = steps.len();
    if n < 4 || steps.iter().any(|step| !step.level.is_finite()) {
        return None;
    }
    let mut now = linear(steps, guess.clamp(0.01, 0.97))?;
    let mut damping = 1e-3;
    for _ in 0..MOST_ROUNDS {
        let (matrix, rhs) = now.normal_equations(steps);
        let mut damped = matrix;
        for (i, row) in damped.iter_mut().enumerate() {
            row[i] *= 1.0 + damping;
        }
        let move_by = normal::factor(&damped)?.solve(&rhs);
        let ratio = now.ratio + move_by[2];
        let next = linear(steps, ratio).filter(|next| next.squares <= now.squares);
        let Some(next) = next else {
            damping *= 10.0;
            if damping > 1e12 {
                break;
            }
            continue;
        };
        let moved = (next.ratio - now.ratio).abs();
        now = next;
        damping = (damping * 0.1).max(1e-12);
        if moved < STILL {
            break;
        }
    }
    // Hardly any bend: where it leads to cannot be told.
    now.finish(steps).filter(|curve| curve.ratio < STRAIGHT)
}

/// Plateau and slope that are best at a ratio, and the sum of squared residuals.
#[derive(Clone, Copy, Debug)]
struct Fitted {
    plateau: f64,
    slope: f64,
    ratio: f64,
    squares: f64,
}

fn linear(steps: &[Step], ratio: f64) -> Option<Fitted> {
    if !(0.0..1.0).contains(&ratio) || ratio <= 0.0 {
        return None;
    }
    let n = steps.len() as f64;
    let (mut e, mut y) = (0.0, 0.0);
    for step in steps {
        e += libm::pow(ratio, step.k) / n;
        y += step.level / n;
    }
    let (mut ee, mut ey) = (0.0, 0.0);
    for step in steps {
        let off = libm::pow(ratio, step.k) - e;
        ee += off * off;
        ey += off * (step.level - y);
    }
    if ee <= 0.0 {
        return None;
    }
    let slope = ey / ee;
    let plateau = y - slope * e;
    let squares = steps
        .iter()
        .map(|step| {
            let off = step.level - plateau - slope * libm::pow(ratio, step.k);
            off * off
        })
        .sum();
    Some(Fitted {
        plateau,
        slope,
        ratio,
        squares,
    })
}

impl Fitted {
    fn gradient(&self, k: f64) -> [f64; 3] {
        let e = libm::pow(self.ratio, k);
        [1.0, e, self.slope * k * e / self.ratio]
    }

    fn normal_equations(&self, steps: &[Step]) -> ([[f64; 3]; 3], [f64; 3]) {
        let (mut matrix, mut rhs) = ([[0.0; 3]; 3], [0.0; 3]);
        for step in steps {
            let gradient = self.gradient(step.k);
            let off = step.level - self.plateau - self.slope * gradient[1];
            for i in 0..3 {
                for j in 0..3 {
                    matrix[i][j] += gradient[i] * gradient[j];
                }
                rhs[i] += gradient[i] * off;
            }
        }
        (matrix, rhs)
    }

    fn finish(&self, steps: &[Step]) -> Option<Curve> {
        let (matrix, _) = self.normal_equations(steps);
        let factor = normal::factor(&matrix)?;
        let variance = self.squares / (steps.len() - 3) as f64;
        let standard = |i: usize| {
            let mut unit = [0.0; 3];
            unit[i] = 1.0;
            (variance * factor.solve(&unit)[i]).sqrt()
        };
        let curve = Curve {
            plateau: self.plateau,
            plateau_standard: standard(0),
            ratio: self.ratio,
            ratio_standard: standard(2),
            first: self.plateau + self.slope,
        };
        (curve.plateau.is_finite() && curve.plateau_standard.is_finite()).then_some(curve)
    }
}
