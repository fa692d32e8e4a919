//! Axes: round ticks, and from values to pixels.

/// The step, 1, 2 or 5 times a power of ten, that divides `span` into at most `most` parts.
pub(super) fn round_step(span: f64, most: u32) -> f64 {
    let raw = span / f64::from(most.max(1));
    if !(raw.is_finite() && raw > 0.0) {
        return 1.0;
    }
    let power = libm::pow(10.0, libm::floor(libm::log10(raw)));
    [1.0, 2.0, 5.0]
        .into_iter()
        .map(|factor| factor * power)
        .find(|step| *step >= raw * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

/// How many decimals a multiple of the step needs.
pub(super) fn decimals(step: f64) -> usize {
    (0..6)
        .find(|n| {
            let scaled = step * libm::pow(10.0, f64::from(*n));
            (scaled - libm::round(scaled)).abs() < 1e-6 * scaled.max(1.0)
        })
        .unwrap_or(6) as usize
}

/// More ticks than any axis has room for.
const TICKS: usize = 100;

/// Multiples of the step from `low` to `high`; an axis without end has only the first of them.
pub(super) fn ticks(low: f64, high: f64, step: f64) -> Vec<f64> {
    let first = libm::ceil(low / step - 1e-9) as i64;
    let last = libm::floor(high / step + 1e-9) as i64;
    let ticks = (first..=last).map(|n| n as f64 * step);
    ticks.take(TICKS).collect()
}

/// A linear scale from values to pixels.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) from: f64,
    pub(super) to: f64,
}

impl Scale {
    /// Where a value lies; values beyond the ends are put at the ends.
    pub(super) fn at(&self, value: f64) -> f64 {
        let share = ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        let share = if share.is_finite() { share } else { 0.0 };
        self.from + share * (self.to - self.from)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round() {
        assert_eq!(round_step(165.0, 6), 50.0);
        assert_eq!(round_step(11.0, 6), 2.0);
        assert_eq!(round_step(1.1, 6), 0.2);
        assert_eq!(round_step(f64::NAN, 6), 1.0);
        assert_eq!(decimals(0.2), 1);
        assert_eq!(decimals(50.0), 0);
        assert_eq!(decimals(0.05), 2);
        assert_eq!(ticks(0.0, 150.0, 50.0), [0.0, 50.0, 100.0, 150.0]);
        assert!(ticks(0.0, f64::INFINITY, 1.0).len() <= TICKS);
    }

    #[test]
    fn beyond_the_scale_is_at_its_end() {
        let scale = Scale {
            low: 0.0,
            high: 10.0,
            from: 100.0,
            to: 0.0,
        };
        assert_eq!(scale.at(5.0), 50.0);
        assert_eq!(scale.at(50.0), 0.0);
        assert_eq!(scale.at(f64::NAN), 100.0);
    }
}
