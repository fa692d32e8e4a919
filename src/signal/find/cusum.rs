//! Page's cumulative sum test for a rise (E. S. Page, *Biometrika* 41 (1954) 100–115).

/// The sum of what exceeds the allowance, never below zero.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Cusum {
    sum: f64,
    onset: f64,
}

impl Cusum {
    /// Takes how far a value is above what was expected; `allowance` in the same unit.
    pub(super) fn push(&mut self, time: f64, above: f64, allowance: f64) {
        let sum = self.sum + above - allowance;
        if sum <= 0.0 {
            self.sum = 0.0;
            return;
        }
        if self.sum == 0.0 {
            self.onset = time;
        }
        self.sum = sum;
    }
    pub(super) fn sum(&self) -> f64 {
        self.sum
    }
    /// When the sum last left zero: the likeliest time of the change.
    pub(super) fn onset(&self) -> f64 {
        self.onset
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::signal::outside::Noise;

    /// Mean number of values until the alarm, when they are `shift` above what is expected.
    fn run_length(shift: f64, allowance: f64, alarm: f64, runs: u32) -> f64 {
        let mut noise = Noise(0x9e37_79b9_7f4a_7c15);
        let mut values = 0.0;
        for _ in 0..runs {
            let mut cusum = Cusum::default();
            while cusum.sum() <= alarm {
                cusum.push(values, shift + noise.normal(), allowance);
                values += 1.0;
            }
        }
        values / f64::from(runs)
    }

    /// Average run lengths of the one-sided test with allowance 0.5 and alarm 4 or 5, in standard
    /// deviations: Siegmund's approximation (D. Siegmund, *Sequential Analysis*, 1985; from
    /// memory), which the usual tables of the test agree with (4: 336 and 8.38; 5: 930 and 10.4).
    #[test]
    fn run_lengths_are_the_published_ones() {
        let siegmund = |drift: f64, alarm: f64| {
            let b = alarm + 1.166;
            (libm::exp(-2.0 * drift * b) + 2.0 * drift * b - 1.0) / (2.0 * drift * drift)
        };
        for (alarm, calm, shifted) in [(4.0, 336.0, 8.38), (5.0, 930.0, 10.4)] {
            assert!((siegmund(-0.5, alarm) / calm - 1.0).abs() < 0.02);
            assert!((siegmund(0.5, alarm) / shifted - 1.0).abs() < 0.02);
            let measured = run_length(0.0, 0.5, alarm, 3000);
            assert!((measured / calm - 1.0).abs() < 0.06, "{alarm}: {measured}");
            let measured = run_length(1.0, 0.5, alarm, 3000);
            assert!(
                (measured / shifted - 1.0).abs() < 0.03,
                "{alarm}: {measured}"
            );
        }
    }
}
