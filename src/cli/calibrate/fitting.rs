//! Fits the model of the causes.

use super::measure::{Known, Seen};
use crate::assess::causes::{Example, fit as fit_model};
use crate::assess::{CauseKind, RuleSet, observe};
use crate::cli::{Exit, Failure};

/// The fitted model as TOML.
pub(super) fn fit(seen: &[Result<Seen, String>], command: &str) -> Result<String, Failure> {
    let rules = RuleSet::default();
    let examples: Vec<Example> = seen
        .iter()
        .flatten()
        .flat_map(|seen| examples(seen, &rules))
        .collect();
    let model = fit_model(&examples, command);
    let text = toml::to_string(&model).map_err(|error| Failure::new(Exit::Failed, error))?;
    Ok(format!(
        "# What each cause makes the readings show, in grades of severity; see the features'\n\
         # descriptions in the code. {} cylinders of simulated visits.\n\n{text}",
        examples.len()
    ))
}

fn examples(seen: &Seen, rules: &RuleSet) -> Vec<Example> {
    observe(Some(&seen.card), &seen.inputs(), rules)
        .into_iter()
        .filter_map(|signs| {
            let known = seen.known.iter().find(|k| k.truth.name == signs.cylinder)?;
            let (group, severity) = grading(seen, known);
            Some(Example {
                cause: known.truth.cause,
                group,
                severity,
                permitted: signs.permitted,
                observed: signs.observed,
            })
        })
        .collect()
}

/// A healthy cylinder is graded by what its neighbours have; what touches one cylinder looks
/// different from what touches all.
fn grading(seen: &Seen, known: &Known) -> (u8, f64) {
    let touched = |kind| seen.known.iter().filter(|k| k.truth.cause == kind).count();
    match known.truth.cause {
        CauseKind::Healthy if seen.cause == CauseKind::HighCompression => (2, seen.severity),
        CauseKind::Healthy => (u8::from(seen.worst_drop() > 0.0), seen.worst_drop()),
        kind @ CauseKind::Rings => (u8::from(touched(kind) > 1), known.drop),
        CauseKind::Valve | CauseKind::Gasket => (0, known.drop),
        kind => (u8::from(touched(kind) > 1), seen.severity),
    }
}
