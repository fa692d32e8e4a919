//! The findings as a page carries them.

use crate::pipeline::Findings;

/// In one line, without the samples, which would make the page too large to be read.
pub(super) fn carried(findings: &Findings) -> serde_json::Result<String> {
    serde_json::to_string(&without_samples(findings.clone()))
}

/// The findings without the samples of the runs.
pub(super) fn without_samples(mut findings: Findings) -> Findings {
    for run in &mut findings.runs {
        run.samples = None;
    }
    findings
}
