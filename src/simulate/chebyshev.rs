//! Coefficients of the Runge-Kutta-Chebyshev scheme of second order.
//!
//! B. P. Sommeijer, L. F. Shampine, J. G. Verwer, "RKC: an explicit solver for parabolic PDEs",
//! Journal of Computational and Applied Mathematics 88 (1998), 315-326. A large opening on a
//! small volume decays fast towards equal pressures, which asks an explicit scheme for short steps.
//! With `s` stages this one stays stable for a decay `0.65 (s² − 1)` times faster than the step:
//! the longer the step, the cheaper. Being explicit, it keeps the sums of mass and energy.

/// Damping of the stability polynomial.
const DAMPING: f64 = 2.0 / 13.0;

/// How a stage follows from the two before it: `y = from_begin·y₀ + last·y₋₁ + before·y₋₂ +
/// h (rate·f₋₁ + first·f₀)`.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Coefficients {
    pub(super) begin: f64,
    pub(super) last: f64,
    pub(super) before: f64,
    pub(super) rate: f64,
    pub(super) first: f64,
}

/// The schemes of 2 to [`Schemes::MOST`] stages.
#[derive(Clone, Debug)]
pub(super) struct Schemes(Vec<Vec<Coefficients>>);

impl Schemes {
    /// Most stages of a scheme.
    pub(super) const MOST: usize = 8;

    pub(super) fn new() -> Self {
        Self((2..=Self::MOST).map(stages).collect())
    }

    /// The stages of the shortest scheme that is stable for a decay of `reach` within one step,
    /// or of the longest there is.
    pub(super) fn for_decay(&self, reach: f64) -> &[Coefficients] {
        let found = self.0.iter().find(|stages| limit(stages.len()) >= reach);
        found.or(self.0.last()).map_or(&[], Vec::as_slice)
    }
}

/// Up to which decay within one step a scheme of so many stages is stable.
pub(super) fn limit(stages: usize) -> f64 {
    let s = stages as f64;
    2.0 / 3.0 * (s * s - 1.0) * (1.0 - 2.0 / 15.0 * DAMPING)
}

fn stages(count: usize) -> Vec<Coefficients> {
    let s = count as f64;
    let w0 = 1.0 + DAMPING / (s * s);
    let polynomials = chebyshev(count, w0);
    let [_, slope, bend] = polynomials[count];
    let w1 = slope / bend;
    let b = |j: usize| {
        let [_, slope, bend] = polynomials[j.max(2)];
        bend / (slope * slope)
    };
    let mut all = vec![Coefficients {
        begin: 1.0,
        rate: b(1) * w1,
        ..Coefficients::default()
    }];
    for j in 2..=count {
        let last = 2.0 * b(j) * w0 / b(j - 1);
        let before = -b(j) / b(j - 2);
        let rate = 2.0 * b(j) * w1 / b(j - 1);
        all.push(Coefficients {
            begin: 1.0 - last - before,
            last,
            before,
            rate,
            first: -(1.0 - b(j - 1) * polynomials[j - 1][0]) * rate,
        });
    }
    all
}

/// Chebyshev polynomials of degree 0 to `degree` at `x`, with their first and second derivative.
fn chebyshev(degree: usize, x: f64) -> Vec<[f64; 3]> {
    let mut all = vec![[1.0, 0.0, 0.0], [x, 1.0, 0.0]];
    for j in 2..=degree {
        let ([a, da, dda], [b, db, ddb]) = (all[j - 2], all[j - 1]);
        all.push([
            2.0 * x * b - a,
            2.0 * b + 2.0 * x * db - da,
            4.0 * db + 2.0 * x * ddb - dda,
        ]);
    }
    all
}

#[cfg(test)]
mod tests {
    use super::{Schemes, limit, stages};

    /// One step of `y' = z y` from 1.
    fn grown(count: usize, z: f64) -> f64 {
        let (mut last, mut before) = (1.0, 1.0);
        for stage in stages(count) {
            let next = stage.begin
                + stage.last * last
                + stage.before * before
                + z * (stage.rate * last + stage.first);
            before = last;
            last = next;
        }
        last
    }

    #[test]
    fn second_order_at_any_number_of_stages() {
        for count in 2..=Schemes::MOST {
            let error = |z: f64| grown(count, z) - libm::exp(z);
            let order = libm::log2(error(-0.02) / error(-0.01));
            assert!((order - 3.0).abs() < 0.05, "{count}: {order}");
        }
    }

    #[test]
    fn stable_as_far_as_said() {
        for count in 2..=Schemes::MOST {
            let limit = limit(count);
            for i in 1..=1000 {
                let z = -limit * f64::from(i) / 1000.0;
                assert!(grown(count, z).abs() <= 1.0, "{count}: {z}");
            }
            assert!(grown(count, -1.5 * limit).abs() > 1.0, "{count}");
        }
    }

    #[test]
    fn enough_stages_are_taken() {
        let schemes = Schemes::new();
        assert_eq!(schemes.for_decay(0.0).len(), 2);
        assert!(limit(schemes.for_decay(30.0).len()) >= 30.0);
        assert_eq!(schemes.for_decay(1e9).len(), Schemes::MOST);
    }
}
