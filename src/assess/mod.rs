//! What the readings mean: comparison of cylinders and conditions, causes with evidence, score.
//! Pure.
//!
//! One way in: [`assess`]. Every statement names the rule it follows and where that comes from;
//! near a limit it says "too close to call"; what the runs made cannot tell is listed, never
//! guessed.

mod air;
mod as_read;
mod beside;
mod buyer;
mod case;
mod causes;
mod change;
mod changed;
mod compare;
mod correct;
mod gaps;
pub mod guard;
mod history;
mod leak;
mod level;
mod map;
mod neighbours;
mod notes;
mod oil;
mod quality;
mod results;
pub mod rules;
pub mod saying;
mod score;
mod sentences;
mod steps;
mod suspects;
mod verdict;

pub use case::RunInput;
pub use changed::{Change, History, Trend};
pub use history::{Visit, compare};
pub use results::{
    Allowance, AllowancePart, Amount, Assessment, Cause, CauseKind, Comparison, Corrected,
    Correction, CorrectionKind, CylinderAssessment, CylinderReading, Evidence, ExpectedReading,
    Finding, Judgement, LeakArea, LeakDownBeside, Origin, Quantity, Role, Sign, ValveSide,
};
pub use rules::{RuleError, RuleSet};
pub use saying::Saying;
pub use sentences::{Advice, flag, many, say};

use crate::engine::{Condition, EngineKind, JobCard};
use crate::leakdown::AirTest;
use crate::units::Pressure;
use case::Case;

/// What the runs of a session say about the engine.
///
/// Runs that were taken back or gave no reading are left out and named. Where a cylinder was read
/// more than once in a condition, the last settled run counts.
pub fn assess(
    card: Option<&JobCard>,
    runs: &[RunInput<'_>],
    rules: &RuleSet,
) -> Assessment<Saying> {
    assess_with_air(card, runs, &[], rules)
}

/// As [`assess`], with the tests with air that were made beside the runs: where air was heard to
/// leave tells causes apart, and the leak is held against that of cranking.
pub fn assess_with_air(
    card: Option<&JobCard>,
    runs: &[RunInput<'_>],
    air: &[AirTest],
    rules: &RuleSet,
) -> Assessment<Saying> {
    let rules = &*rules.for_engine(&EngineKind::of(card));
    let case = Case::new(card, runs, air, rules);
    let (scores, causes) = scored(&case);
    let cylinders: Vec<CylinderAssessment<Saying>> = scores
        .iter()
        .zip(causes)
        .enumerate()
        .map(|(at, (score, causes))| CylinderAssessment {
            name: case.name(at).to_owned(),
            score: score.map(|score| score.value),
            score_expanded: score.map(|score| score.expanded),
            readings: readings(&case, at),
            leak_down: beside::beside(&case, at),
            causes,
        })
        .collect();
    let (comparisons, findings, disagreement) = judged(&case);
    let verdict = verdict::reach(&case, &findings);
    let judgement = verdict.judgement;
    let engine = score::engine(&scores);
    let next_steps = steps::steps(&case, &cylinders, &verdict);
    let gaps = gaps::gaps(&case, &cylinders);
    Assessment {
        verdict: Saying::Verdict(verdict::ruling(&case, &verdict, &cylinders)),
        judgement,
        score: engine.map(|score| score.value),
        score_expanded: engine.map(|score| score.expanded),
        expected: level::expectations(&case),
        comparisons,
        findings,
        disagreement,
        allowance: card.and_then(|card| buyer::allowance(card, &cylinders)),
        notes: notes::notes(&case).into_iter().map(Saying::Note).collect(),
        cannot_tell: gaps.into_iter().map(Saying::Gap).collect(),
        next_steps: next_steps.into_iter().map(Saying::NextStep).collect(),
        rule_set: rules.name.clone(),
        cylinders,
    }
}

/// Scores and causes of each cylinder; none of either for an engine that they were not made for.
fn scored(case: &Case<'_>) -> (Vec<Option<score::Score>>, Vec<Vec<Cause<Saying>>>) {
    let count = case.cylinders.len();
    if case.kind.reading_only().is_some() {
        return (vec![None; count], vec![Vec::new(); count]);
    }
    let scores = (0..count).map(|at| score::cylinder(case, at)).collect();
    (scores, causes::causes(case))
}

/// Comparisons, every finding, and whether published rules disagree.
fn judged(case: &Case<'_>) -> (Vec<Comparison>, Vec<Finding<Saying>>, Option<Saying>) {
    let mut comparisons = Vec::new();
    let mut findings = Vec::new();
    for condition in Condition::ALL {
        if let Some((comparison, mut found)) = compare::compare(case, condition) {
            // Warm decides where both were read: the published rules are meant for it.
            if Some(condition) != case.dry {
                for finding in &mut found {
                    finding.role = Role::Note;
                }
            }
            comparisons.push(comparison);
            findings.append(&mut found);
        }
    }
    let disagreement = case
        .dry
        .and_then(|dry| compare::disagreement(&findings, dry));
    findings.extend(level::findings(case));
    findings.extend(change::findings(case));
    findings.extend(neighbours::findings(case));
    findings.extend(quality::findings(case));
    (comparisons, findings, disagreement)
}

/// A cylinder's readings, every usable run, in the order made.
fn readings(case: &Case<'_>, at: usize) -> Vec<CylinderReading<Saying>> {
    let Some(cylinder) = case.cylinders.get(at) else {
        return Vec::new();
    };
    cylinder
        .all
        .iter()
        .map(|(condition, entry)| CylinderReading {
            run: entry.run,
            condition: *condition,
            value: entry.value,
            expanded: entry.standard * 2.0,
            expanded_relative: entry.relative * 2.0,
            at_least: entry.at_least,
            share_of_highest: share_of_highest(case, *condition, entry.value),
            crank: entry.crank,
            corrected: correct::corrected(case, *condition, entry),
            leak: leak::area(case, entry, leak::MODEL_DOUBT),
        })
        .collect()
}

fn share_of_highest(case: &Case<'_>, condition: Condition, value: Pressure) -> Option<f64> {
    let readings = case.of(condition);
    let highest = readings
        .iter()
        .map(|(_, entry)| entry.value)
        .fold(value, Pressure::max);
    let share = value / highest;
    (readings.len() > 1 && share.is_finite()).then(|| share.clamp(0.0, 1.0))
}
