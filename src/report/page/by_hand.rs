//! What was set by hand for the analysis: the same lines on the page and from `verify`.

use super::Fact;
use crate::pipeline::{Findings, GivenFile};
use crate::report::view::Number;
use crate::report::words;

/// One fact a setting; none where nothing was set. Units are not told: they are seen.
pub(in crate::report) fn by_hand(findings: &Findings) -> Vec<Fact> {
    let set = &findings.set_by_hand;
    let mut facts = Vec::new();
    if let Some(share) = set.tolerance_share {
        let number = Number {
            text: (libm::round(share * 10_000.0) / 100.0).to_string(),
            value: share,
            from: "/set_by_hand/tolerance_share".to_owned(),
        };
        let label = "Set by hand: a reading counts as settled within";
        facts.push(Fact::number(label, number, "% of the plateau"));
    }
    if set.rig.is_some() {
        facts.push(Fact::text("Set by hand: rig", words::rig(set.rig)));
    }
    if !set.runs.is_empty() {
        let names: Vec<String> = set
            .runs
            .iter()
            .map(|run| {
                let name = words::shorten(&run.cylinder, 40);
                format!("{name} {}", run.condition.label())
            })
            .collect();
        facts.push(Fact::text("Set by hand: names of runs", names.join(", ")));
    }
    if let Some(card) = &set.card {
        facts.push(Fact::text("Set by hand: job card", file(card)));
    }
    if let Some(rules) = &set.rules {
        facts.push(Fact::text("Set by hand: rule set", file(rules)));
    }
    facts
}

fn file(file: &GivenFile) -> String {
    let hash = words::shorten(&file.sha256, 64);
    format!("a file that was given, kept in the JSON of this report; SHA-256 {hash}")
}
