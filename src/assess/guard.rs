//! Decisions near a limit (JCGM 106:2012): the probability that the limit is kept, given what
//! was measured and how well, and a judgement only where that probability is near 1 or 0.

use super::results::Judgement;

/// Distribution function of the standard normal distribution.
pub fn normal_below(z: f64) -> f64 {
    0.5 * libm::erfc(-z * core::f64::consts::FRAC_1_SQRT_2)
}

/// Probability that the true value is at or above `limit`. With no uncertainty a value exactly
/// at the limit keeps it.
pub fn at_least(value: f64, standard: f64, limit: f64) -> f64 {
    if standard > 0.0 {
        return normal_below((value - limit) / standard);
    }
    // Rounding in a conversion of units must not decide a reading exactly at its limit.
    let touching = (value - limit).abs() <= 1e-9 * limit.abs();
    if touching || value >= limit { 1.0 } else { 0.0 }
}

/// Probability that the true value is at or below `limit`.
pub fn at_most(value: f64, standard: f64, limit: f64) -> f64 {
    at_least(-value, standard, -limit)
}

/// The judgement that a probability of keeping the limit supports. `decision` is the rule set's
/// (0.5 to 1).
pub fn judge(probability_within: f64, decision: f64) -> Judgement {
    if !probability_within.is_finite() {
        Judgement::NotJudged
    } else if probability_within >= decision {
        Judgement::Pass
    } else if probability_within <= 1.0 - decision {
        Judgement::Fail
    } else {
        Judgement::TooCloseToCall
    }
}
