//! Keeps out samples that cannot be true.

use crate::signal::settings::{Sample, Settings};

/// No pressure sensor for an engine reads beyond this (Pa); a larger number is a fault.
const ABSURD_PA: f64 = 1e9;

/// Passes on samples with a finite, possible pressure and a time that does not run backwards.
#[derive(Clone, Debug)]
pub(crate) struct Screen {
    pub(crate) last_s: f64,
    pub(crate) limit_pa: f64,
    /// Samples kept out.
    pub(crate) refused: u64,
}

impl Screen {
    pub(crate) fn new(settings: &Settings) -> Self {
        let limit_pa = match settings.range_max {
            // A sensor may tell a little more than its range, but not ten times as much.
            Some(range) if range.is_finite() && range.pa() > 0.0 => 10.0 * range.pa(),
            _ => ABSURD_PA,
        };
        Self {
            last_s: f64::NEG_INFINITY,
            limit_pa,
            refused: 0,
        }
    }

    /// Whether the sample can be used.
    pub(crate) fn passes(&mut self, sample: &Sample) -> bool {
        let (t, p) = (sample.time.s(), sample.pressure.pa());
        // Written so that NaN fails.
        let good = t.is_finite() && t >= self.last_s && p.abs() <= self.limit_pa;
        if good {
            self.last_s = t;
        } else {
            self.refused += 1;
        }
        good
    }
}

#[cfg(test)]
mod tests;
