//! Weighted mean and variance, by hand.

use super::*;

/// 1, 2, 4 with weights 1, 2, 3: mean 17 / 6, variance (1 + 8 + 48) / 6 − (17 / 6)².
#[test]
fn mean_and_variance_are_the_weighted_ones() {
    let mut moments = Moments::default();
    assert_eq!((moments.mean(), moments.variance()), (0.0, 0.0));
    for (value, weight) in [(1.0, 1.0), (9e9, 0.0), (2.0, 2.0), (7e7, -1.0), (4.0, 3.0)] {
        moments.push(value, weight);
    }
    assert!((moments.mean() - 17.0 / 6.0).abs() < 1e-12);
    assert!((moments.variance() - (57.0 / 6.0 - 289.0 / 36.0)).abs() < 1e-12);
}

/// Values that lie far from zero lose nothing (that is what West's update is for).
#[test]
fn an_offset_changes_the_mean_only() {
    let mut moments = Moments::default();
    for value in [1e9 + 1.0, 1e9 + 2.0, 1e9 + 3.0, 1e9 + 4.0] {
        moments.push(value, 1.0);
    }
    assert!((moments.mean() - 1e9 - 2.5).abs() < 1e-6);
    assert!((moments.variance() - 1.25).abs() < 1e-6);
}
