//! Fits the model of the causes.

use super::measure::Seen;
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
            // A healthy cylinder is graded by how bad its neighbours are.
            let severity = match known.truth.cause {
                CauseKind::Healthy => seen.worst_drop(),
                CauseKind::Rings | CauseKind::Valve | CauseKind::Gasket => known.drop,
                _ => seen.severity,
            };
            Some(Example {
                cause: known.truth.cause,
                severity,
                permitted: signs.permitted,
                observed: signs.observed,
            })
        })
        .collect()
}
