//! Numbers and names as they stand in sentences.

use crate::assess::saying::Measurement;
use crate::engine::Display;
use crate::units::Pressure;

/// The units that pressures are shown in.
#[derive(Clone, Copy)]
pub(super) struct Units(pub(super) Display);

impl Units {
    /// A pressure; with the second unit in brackets.
    pub(super) fn show(self, pressure: Pressure) -> String {
        let Display { unit, also } = self.0;
        match also.filter(|also| *also != unit) {
            Some(also) => format!("{} ({})", pressure.show(unit), pressure.show(also)),
            None => pressure.show(unit),
        }
    }

    /// A pressure with its expanded uncertainty (k = 2).
    pub(super) fn measured(self, measured: Measurement) -> String {
        format!(
            "{} ± {}",
            measured.value.digits(self.0.unit),
            (measured.standard * 2.0).show(self.0.unit)
        )
    }
}

/// A probability in words: never rounded to a certainty.
pub(super) fn percent(probability: f64) -> String {
    if probability > 0.99 {
        "over 99 %".to_owned()
    } else if probability < 0.01 {
        "under 1 %".to_owned()
    } else {
        format!("{:.0} %", probability * 100.0)
    }
}

/// With how many decimals, at least `least`, a share is shown in per cent beside its limit: enough
/// that they do not look alike where they are not.
pub(super) fn decimals(share: f64, limit: f64, least: usize) -> usize {
    let shown = |value: f64, n: usize| format!("{:.n$}", value * 100.0);
    let apart = |n: &usize| shown(share, *n) != shown(limit, *n);
    (least..least + 2).find(apart).unwrap_or(least + 2)
}

/// "cylinder 1", "cylinders 1 and 2", "cylinders 1, 2 and 3".
pub(super) fn listed(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [one] => format!("cylinder {one}"),
        [most @ .., last] => format!("cylinders {} and {last}", most.join(", ")),
    }
}

/// `1 stroke`, `2 strokes`.
pub fn many(count: impl Into<u64>, what: &str) -> String {
    let count = count.into();
    let s = if count == 1 { "" } else { "s" };
    format!("{count} {what}{s}")
}

#[cfg(test)]
mod tests {
    use super::{decimals, percent};

    #[test]
    fn a_probability_is_never_rounded_to_a_certainty() {
        assert_eq!(percent(1.0), "over 99 %");
        assert_eq!(percent(0.9951), "over 99 %");
        assert_eq!(percent(0.99), "99 %");
        assert_eq!(percent(0.501), "50 %");
        assert_eq!(percent(0.004), "under 1 %");
    }

    #[test]
    fn a_share_never_looks_like_the_limit_that_it_does_not_keep() {
        assert_eq!(decimals(0.45, 0.9, 0), 0);
        assert_eq!(decimals(0.8962, 0.9, 0), 1);
        assert_eq!(decimals(0.8996, 0.9, 1), 2);
    }
}
