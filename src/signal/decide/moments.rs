//! Weighted mean and variance.

/// Weighted mean and variance, updated value by value (D. H. D. West, *Comm. ACM* 22 (1979) 532).
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Moments {
    weight: f64,
    mean: f64,
    squares: f64,
}

impl Moments {
    pub(super) fn push(&mut self, value: f64, weight: f64) {
        if weight <= 0.0 {
            return;
        }
        self.weight += weight;
        let off = value - self.mean;
        self.mean += off * weight / self.weight;
        self.squares += weight * off * (value - self.mean);
    }
    pub(super) fn mean(&self) -> f64 {
        self.mean
    }
    /// Of the values about their mean; 0 of none.
    pub(super) fn variance(&self) -> f64 {
        if self.weight > 0.0 {
            (self.squares / self.weight).max(0.0)
        } else {
            0.0
        }
    }
}

#[cfg(test)]
mod tests;
