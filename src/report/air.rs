//! Tests with air, in lines.

use super::view::Units;
use crate::leakdown::words;
use crate::pipeline::Findings;

/// What each test with air came to, and how it agrees with cranking.
pub(super) fn air(findings: &Findings, units: Units) -> Vec<String> {
    let tests = findings.air.iter();
    let mut said: Vec<String> = tests
        .map(|test| words::test(test, units.main).join(" "))
        .collect();
    let cylinders = findings.assessment.cylinders.iter();
    said.extend(
        cylinders
            .filter_map(|cylinder| cylinder.leak_down.as_ref())
            .filter(|beside| beside.cranked.is_some())
            .map(|beside| beside.text.clone()),
    );
    said
}
