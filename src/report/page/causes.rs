//! The page's part on causes and rules.

use crate::assess::{CauseKind, Evidence, Judgement, Role};
use crate::pipeline::Findings;
use crate::report::view::Number;
use crate::report::words;
use serde::Serialize;

/// What a cylinder's readings point to.
#[derive(Serialize)]
pub(super) struct CylinderCauses {
    name: String,
    /// Nothing wrong is the likeliest.
    healthy: bool,
    causes: Vec<CauseView>,
}

#[derive(Serialize)]
struct CauseView {
    kind: &'static str,
    probability: Number,
    text: String,
    evidence_for: Vec<String>,
    evidence_against: Vec<String>,
}

/// A rule and how it was judged.
#[derive(Serialize)]
pub(in crate::report) struct RuleView {
    pub(in crate::report) judgement: &'static str,
    sign: &'static str,
    role: &'static str,
    /// It counts, and is not kept for certain.
    pub(in crate::report) weighs: bool,
    pub(in crate::report) text: String,
    condition: Option<&'static str>,
    probability: Option<Number>,
    pub(in crate::report) source: String,
}

pub(super) fn causes(findings: &Findings) -> Vec<CylinderCauses> {
    let cylinders = findings.assessment.cylinders.iter().enumerate();
    cylinders
        .filter(|(_, cylinder)| !cylinder.causes.is_empty())
        .map(|(c, cylinder)| CylinderCauses {
            name: words::clean(&cylinder.name),
            healthy: cylinder
                .causes
                .first()
                .is_some_and(|cause| cause.kind == CauseKind::Healthy),
            causes: cylinder
                .causes
                .iter()
                .enumerate()
                .map(|(n, cause)| CauseView {
                    kind: words::cause(cause.kind),
                    probability: Number::probability(
                        cause.probability,
                        format!("/assessment/cylinders/{c}/causes/{n}/probability"),
                    ),
                    text: words::clean(&cause.text),
                    evidence_for: said(&cause.evidence_for),
                    evidence_against: said(&cause.evidence_against),
                })
                .collect(),
        })
        .collect()
}

pub(in crate::report) fn rules(findings: &Findings) -> Vec<RuleView> {
    let found = findings.assessment.findings.iter().enumerate();
    found
        .map(|(n, finding)| RuleView {
            judgement: words::judgement(finding.judgement),
            sign: words::judgement_sign(finding.judgement),
            role: words::role(finding.role),
            weighs: finding.role == Role::Decides
                && matches!(
                    finding.judgement,
                    Judgement::Fail | Judgement::TooCloseToCall
                ),
            text: words::clean(&finding.text),
            condition: finding.condition.map(crate::engine::Condition::label),
            probability: finding.probability_within.map(|p| {
                Number::probability(p, format!("/assessment/findings/{n}/probability_within"))
            }),
            source: words::clean(&finding.source),
        })
        .collect()
}

fn said(evidence: &[Evidence]) -> Vec<String> {
    evidence.iter().map(|e| words::clean(&e.text)).collect()
}
