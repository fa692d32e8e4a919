//! The page's part on what was computed beside the readings: what a tight engine should read,
//! corrections, leak areas, what repairs may cost, what is taken for granted.

use crate::pipeline::Findings;
use crate::report::view::{Number, Units};
use crate::report::words;
use serde::Serialize;

/// All of it; each list is empty where the job card says too little.
#[derive(Serialize)]
pub(in crate::report) struct Assessed {
    pub(in crate::report) disagreement: Option<String>,
    pub(in crate::report) expected: Vec<ExpectedView>,
    pub(in crate::report) corrected: Vec<CorrectedView>,
    pub(in crate::report) allowance: Option<AllowanceView>,
    pub(in crate::report) notes: Vec<String>,
}

/// What a tight cylinder should read.
#[derive(Serialize)]
pub(in crate::report) struct ExpectedView {
    pub(in crate::report) condition: &'static str,
    pub(in crate::report) low: Number,
    pub(in crate::report) likely: Number,
    pub(in crate::report) high: Number,
    pub(in crate::report) basis: String,
}

/// A reading made comparable, and the hole that would explain it.
#[derive(Serialize)]
pub(in crate::report) struct CorrectedView {
    pub(in crate::report) cylinder: String,
    pub(in crate::report) condition: &'static str,
    pub(in crate::report) value: Option<(Number, Number)>,
    pub(in crate::report) leak: Option<(Number, Number)>,
    /// What was done, each with its factor.
    pub(in crate::report) parts: Vec<String>,
}

/// What a buyer may allow for repairs.
#[derive(Serialize)]
pub(in crate::report) struct AllowanceView {
    pub(in crate::report) currency: String,
    pub(in crate::report) expected: Number,
    /// Job, cost, probability in per cent.
    pub(in crate::report) parts: Vec<(String, Number, Number)>,
    pub(in crate::report) text: String,
}

/// Puts it into words and numbers.
pub(in crate::report) fn assessed(findings: &Findings, units: Units) -> Assessed {
    let assessment = &findings.assessment;
    Assessed {
        disagreement: assessment.disagreement.as_deref().map(words::clean),
        expected: expected(findings, units),
        corrected: corrected(findings, units),
        allowance: allowance(findings),
        notes: super::fact::cleaned(&assessment.notes),
    }
}

fn expected(findings: &Findings, units: Units) -> Vec<ExpectedView> {
    let expected = findings.assessment.expected.iter().enumerate();
    expected
        .map(|(n, found)| {
            let at = |name: &str| format!("/assessment/expected/{n}/{name}_pa");
            ExpectedView {
                condition: found.condition.label(),
                low: Number::pressure(found.low, units.main, at("low")),
                likely: Number::pressure(found.likely, units.main, at("likely")),
                high: Number::pressure(found.high, units.main, at("high")),
                basis: words::clean(&found.basis),
            }
        })
        .collect()
}

fn corrected(findings: &Findings, units: Units) -> Vec<CorrectedView> {
    let mut views = Vec::new();
    for (c, cylinder) in findings.assessment.cylinders.iter().enumerate() {
        for (r, reading) in cylinder.readings.iter().enumerate() {
            let at = format!("/assessment/cylinders/{c}/readings/{r}");
            let value = reading.corrected.as_ref().map(|corrected| {
                let pressure = |value, name: &str| {
                    Number::pressure(value, units.main, format!("{at}/corrected/{name}_pa"))
                };
                (
                    pressure(corrected.value, "value"),
                    pressure(corrected.expanded_relative, "expanded_relative"),
                )
            });
            let leak = reading.leak.map(|leak| {
                let area = |mm2, name: &str| Number::plain(mm2, 3, format!("{at}/leak/{name}"));
                (
                    area(leak.mm2, "mm2"),
                    area(leak.expanded_mm2, "expanded_mm2"),
                )
            });
            if value.is_none() && leak.is_none() {
                continue;
            }
            let parts = reading.corrected.iter().flat_map(|c| &c.parts);
            views.push(CorrectedView {
                cylinder: words::clean(&cylinder.name),
                condition: reading.condition.label(),
                value,
                leak,
                parts: parts.map(|part| words::clean(&part.text)).collect(),
            });
        }
    }
    views
}

fn allowance(findings: &Findings) -> Option<AllowanceView> {
    let found = findings.assessment.allowance.as_ref()?;
    let at = "/assessment/allowance";
    let parts = found.parts.iter().enumerate();
    Some(AllowanceView {
        currency: words::shorten(&found.currency, 12),
        expected: Number::plain(found.expected, 0, format!("{at}/expected")),
        parts: parts
            .map(|(n, part)| {
                (
                    words::clean(&part.job),
                    Number::plain(part.cost, 0, format!("{at}/parts/{n}/cost")),
                    Number::probability(part.probability, format!("{at}/parts/{n}/probability")),
                )
            })
            .collect(),
        text: words::clean(&found.text),
    })
}
