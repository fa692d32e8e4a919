//! The uncertainty budget of a reading (JCGM 100, *Guide to the expression of uncertainty in
//! measurement*).

use crate::signal::results::Contribution;
use crate::units::Pressure;

/// Coverage factor (GUM 6.3.3: about 95 %).
const K: f64 = 2.0;

/// Standard uncertainties of the parts, in pascal.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Parts {
    pub(super) accuracy: f64,
    /// Of the correction by a check against a gauge.
    pub(super) correction: f64,
    /// The smallest difference the sensor tells; its half-width rectangular share is taken here.
    pub(super) resolution: f64,
    pub(super) noise: f64,
    pub(super) zero: f64,
    /// See [`super::repeat`].
    pub(super) repeat: f64,
    pub(super) sample_rate: f64,
}

/// A budget and its sums.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Budget {
    pub(super) lines: Vec<Contribution>,
    /// Expanded uncertainty, k = 2.
    pub(super) expanded: f64,
    /// Without the parts common to all runs.
    pub(super) expanded_relative: f64,
}

/// Combines the parts (GUM 5.1.2, uncorrelated inputs with sensitivity 1).
pub(super) fn budget(parts: &Parts) -> Budget {
    let mut lines = Vec::from([
        ("sensor accuracy", parts.accuracy, true),
        ("sensor correction", parts.correction, true),
        // Rectangular over one step: q / sqrt(12) (GUM F.2.2.1).
        ("resolution", parts.resolution / 12.0_f64.sqrt(), false),
        ("noise", parts.noise, false),
        ("zero", parts.zero, false),
        ("repeat", parts.repeat, false),
        ("sample rate", parts.sample_rate, false),
    ]);
    // Most sensors were never checked: nothing is said of what was not done.
    lines.retain(|(source, standard, _)| *source != "sensor correction" || *standard > 0.0);
    let line = |(source, standard, common): (&str, f64, bool)| Contribution {
        source: source.to_owned(),
        standard: Pressure::from_pa(standard),
        common,
    };
    let lines: Vec<Contribution> = lines.into_iter().map(line).collect();
    let sum = |with_common: bool| -> f64 {
        lines
            .iter()
            .filter(|line| with_common || !line.common)
            .map(|line| line.standard.pa() * line.standard.pa())
            .sum::<f64>()
            .sqrt()
    };
    Budget {
        expanded: K * sum(true),
        expanded_relative: K * sum(false),
        lines,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Peaks 148.2, 149.0, 148.6, 148.8, 148.4 psi from a 300 psi sensor of class 1.6 with a
    /// resolution of 0.1 psi: type A s/√n (GUM 4.2.3), type B a/√3 (GUM 4.3.7), resolution q/√12
    /// (GUM F.2.2.1); worked by hand: uc 2.775 038 psi, U 5.550 psi.
    #[test]
    fn budget_of_a_worked_example() {
        let peaks = [148.2, 149.0, 148.6, 148.8, 148.4];
        let mean = peaks.iter().sum::<f64>() / 5.0;
        let square: f64 = peaks.iter().map(|p| (p - mean) * (p - mean)).sum();
        let parts = Parts {
            accuracy: 300.0 * 0.016 / 3.0_f64.sqrt(),
            resolution: 0.1,
            noise: (square / 4.0 / 5.0).sqrt(),
            ..Parts::default()
        };
        let budget = budget(&parts);
        assert!(
            (budget.expanded - 5.550_076).abs() < 1e-5,
            "{}",
            budget.expanded
        );
        // Two readings of the same sensor: only type A and resolution remain.
        assert!(
            (budget.expanded_relative - 0.288_675).abs() < 1e-5,
            "{}",
            budget.expanded_relative
        );
    }

    /// Each part stands with what it is; what was not done is not listed, and half-widths are rectangles.
    #[test]
    fn each_part_has_its_line() {
        let parts = Parts {
            accuracy: 1.0,
            correction: 2.0,
            resolution: 6.0,
            noise: 3.0,
            zero: 4.0,
            repeat: 5.0,
            sample_rate: 6.0,
        };
        let told = budget(&parts);
        let lines: Vec<(&str, f64, bool)> = told
            .lines
            .iter()
            .map(|line| (line.source.as_str(), line.standard.pa(), line.common))
            .collect();
        let expected = [
            ("sensor accuracy", 1.0, true),
            ("sensor correction", 2.0, true),
            ("resolution", 3.0_f64.sqrt(), false),
            ("noise", 3.0, false),
            ("zero", 4.0, false),
            ("repeat", 5.0, false),
            ("sample rate", 6.0, false),
        ];
        for (ours, expected) in lines.iter().zip(expected) {
            assert_eq!((ours.0, ours.2), (expected.0, expected.2));
            assert!((ours.1 - expected.1).abs() < 1e-12, "{ours:?}");
        }
        assert_eq!(lines.len(), expected.len());
        // 1 + 4 + 3 + 9 + 16 + 25 + 36.
        assert!((told.expanded - 2.0 * 94.0_f64.sqrt()).abs() < 1e-12);
        assert!((told.expanded_relative - 2.0 * 89.0_f64.sqrt()).abs() < 1e-12);
        let never_checked = budget(&Parts {
            correction: 0.0,
            ..parts
        });
        let sources = never_checked.lines.iter().map(|line| line.source.as_str());
        assert!(!sources.collect::<Vec<_>>().contains(&"sensor correction"));
        assert_eq!(never_checked.lines.len(), 6);
        // Other parts that are nothing are told as nothing.
        assert_eq!(budget(&Parts::default()).lines.len(), 6);
    }
}
