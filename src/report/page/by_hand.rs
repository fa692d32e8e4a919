//! What was set by hand for the analysis: the same lines on the page and from `verify`.

use super::fact::Fact;
use crate::pipeline::{Findings, GivenFile};
use crate::report::view::Number;
use crate::report::words;
use serde::Serialize;

/// So the labels begin.
const SET_BY_HAND: &str = "Set by hand: ";

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
        let label = "Set by hand: tolerance, a reading counts as settled within";
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
    format!("a file that was given, kept in full in this report; SHA-256 {hash}")
}

/// A file that was given by hand, to be shown in full: a card can move every limit.
#[derive(Serialize)]
pub(in crate::report) struct Shown {
    /// What it is.
    pub what: &'static str,
    /// Its lines, cleaned.
    pub lines: Vec<String>,
}

/// The files that were given by hand.
pub(in crate::report) fn given(findings: &Findings) -> Vec<Shown> {
    let set = &findings.set_by_hand;
    let files = [("job card", &set.card), ("rule set", &set.rules)];
    let shown = |(what, file): (&'static str, &Option<GivenFile>)| {
        let lines = file.as_ref()?.text.lines().map(words::clean).collect();
        Some(Shown { what, lines })
    };
    files.into_iter().filter_map(shown).collect()
}

/// What was set by hand, to be said beside the verdict; none where nothing was.
pub(in crate::report) fn beside_the_verdict(findings: &Findings) -> Option<String> {
    let facts = by_hand(findings);
    let labels = facts.iter().filter_map(|fact| {
        let label = fact.label.strip_prefix(SET_BY_HAND)?;
        label.split(',').next()
    });
    let labels: Vec<&str> = labels.collect();
    (!labels.is_empty()).then(|| {
        format!(
            "This rests on settings made by hand ({}); they stand under \"How it was measured\".",
            labels.join(", ")
        )
    })
}
