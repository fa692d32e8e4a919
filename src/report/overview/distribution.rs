//! How values are spread: percentiles and a few bars.

use hdrhistogram::Histogram;
use serde::Serialize;

/// How values are spread. Values are kept to three significant digits.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Distribution {
    /// How many values.
    pub count: u64,
    /// Lowest.
    pub min: u64,
    /// A tenth is no more than this.
    pub p10: u64,
    /// Half are no more than this.
    pub p50: u64,
    /// Nine tenths are no more than this.
    pub p90: u64,
    /// Highest.
    pub max: u64,
    /// How many values lie in each tenth of the way from lowest to highest.
    pub bars: Vec<u64>,
}

impl Distribution {
    /// The highest value that is told apart from those above it.
    const HIGHEST: u64 = 1_000_000_000;
    const BARS: u64 = 10;

    /// Of whole numbers; none of no numbers.
    pub fn of(values: impl IntoIterator<Item = u64>) -> Option<Self> {
        let mut histogram = Histogram::<u64>::new_with_bounds(1, Self::HIGHEST, 3).ok()?;
        for value in values {
            histogram.saturating_record(value);
        }
        if histogram.is_empty() {
            return None;
        }
        let (min, max) = (histogram.min(), histogram.max());
        let width = ((max - min) / Self::BARS + 1).max(1);
        let mut bars = vec![0; Self::BARS as usize];
        for step in histogram.iter_recorded() {
            let bar = (step.value_iterated_to().clamp(min, max) - min) / width;
            if let Some(count) = bars.get_mut(bar as usize) {
                *count += step.count_at_value();
            }
        }
        Some(Self {
            count: histogram.len(),
            min,
            p10: histogram.value_at_quantile(0.1),
            p50: histogram.value_at_quantile(0.5),
            p90: histogram.value_at_quantile(0.9),
            max,
            bars,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::Distribution;

    #[test]
    fn percentiles_and_bars_of_known_values() {
        let found = Distribution::of(1..=100).unwrap();
        assert_eq!((found.count, found.min, found.max), (100, 1, 100));
        assert_eq!((found.p10, found.p50, found.p90), (10, 50, 90));
        assert_eq!(found.bars, [10; 10]);
    }

    #[test]
    fn no_values_and_equal_values() {
        assert_eq!(Distribution::of([]), None);
        let found = Distribution::of([7, 7, 7]).unwrap();
        assert_eq!((found.p10, found.p90), (7, 7));
        assert_eq!(found.bars.iter().sum::<u64>(), 3);
        let zero = Distribution::of([0]).unwrap();
        assert_eq!((zero.min, zero.bars[0]), (0, 1));
    }
}
