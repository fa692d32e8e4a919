//! What the readings mean: comparison of cylinders and conditions, causes with evidence, score.
//! Pure.
//!
//! One way in: [`assess`]. Every statement names the rule it follows and where that comes from;
//! near a limit it says "too close to call"; what the runs made cannot tell is listed, never
//! guessed.

mod advice;
mod buyer;
mod case;
pub mod causes;
mod change;
mod compare;
mod confirm;
mod correct;
pub mod guard;
mod history;
mod leak;
mod level;
mod neighbours;
mod oil;
mod quality;
mod remedies;
mod results;
pub mod rules;
mod score;
mod verdict;

pub use case::RunInput;
pub use history::{Change, History, Trend, Visit, compare};
pub use results::{
    Allowance, AllowancePart, Assessment, Cause, CauseKind, Comparison, Corrected, Correction,
    CorrectionKind, CylinderAssessment, CylinderReading, ExpectedReading, Finding, Judgement,
    LeakArea, Role,
};
pub use rules::{RuleError, RuleSet};

use crate::engine::{Condition, EngineKind, JobCard};
use crate::units::Pressure;
use case::Case;
use causes::CauseModel;

/// What the runs of a session say about the engine.
///
/// Runs that were taken back or gave no reading are left out and named. Where a cylinder was read
/// more than once in a condition, the last settled run counts.
pub fn assess(card: Option<&JobCard>, runs: &[RunInput<'_>], rules: &RuleSet) -> Assessment {
    assess_with(card, runs, rules, CauseModel::shipped())
}

/// As [`assess`], with another model of the causes: for calibration.
pub fn assess_with(
    card: Option<&JobCard>,
    runs: &[RunInput<'_>],
    rules: &RuleSet,
    model: &CauseModel,
) -> Assessment {
    let rules = &*rules.for_engine(&EngineKind::of(card));
    let case = Case::new(card, runs, rules);
    let (scores, causes) = scored(&case, model);
    let cylinders: Vec<CylinderAssessment> = scores
        .iter()
        .zip(causes)
        .enumerate()
        .map(|(at, (score, causes))| CylinderAssessment {
            name: case.name(at).to_owned(),
            score: score.map(|score| score.value),
            score_expanded: score.map(|score| score.expanded),
            readings: readings(&case, at, model),
            causes,
        })
        .collect();
    let (comparisons, findings, disagreement) = judged(&case);
    let judgement = verdict::judgement(&case, &findings, &cylinders);
    let engine = score::engine(&scores);
    let next_steps = advice::next_steps(&case, &findings, &cylinders, judgement);
    Assessment {
        verdict: verdict::sentence(&case, judgement, &findings, &cylinders, &comparisons),
        judgement,
        score: engine.map(|score| score.value),
        score_expanded: engine.map(|score| score.expanded),
        expected: level::expectations(&case),
        comparisons,
        findings,
        disagreement,
        allowance: card.and_then(|card| buyer::allowance(card, &cylinders)),
        notes: advice::notes(&case, &model.made_by),
        cannot_tell: advice::cannot_tell(&case, &cylinders),
        next_steps,
        rule_set: rules.name.clone(),
        cylinders,
    }
}

/// Scores and causes of each cylinder; none of either for an engine that they were not made for.
fn scored(case: &Case<'_>, model: &CauseModel) -> (Vec<Option<score::Score>>, Vec<Vec<Cause>>) {
    let count = case.cylinders.len();
    if case.kind.reading_only().is_some() {
        return (vec![None; count], vec![Vec::new(); count]);
    }
    let scores = (0..count).map(|at| score::cylinder(case, at)).collect();
    (scores, causes::causes(case, model))
}

/// What is observed of each cylinder, as the model of causes sees it: for calibration.
pub fn observe(
    card: Option<&JobCard>,
    runs: &[RunInput<'_>],
    rules: &RuleSet,
) -> Vec<causes::Signs> {
    causes::signs(&Case::new(card, runs, rules))
}

/// Comparisons, every finding, and whether published rules disagree.
fn judged(case: &Case<'_>) -> (Vec<Comparison>, Vec<Finding>, Option<String>) {
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
fn readings(case: &Case<'_>, at: usize, model: &CauseModel) -> Vec<CylinderReading> {
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
            leak: leak::area(case, entry, model.leak_doubt),
        })
        .collect()
}

fn share_of_highest(case: &Case<'_>, condition: Condition, value: Pressure) -> f64 {
    let highest = case
        .of(condition)
        .into_iter()
        .map(|(_, entry)| entry.value)
        .fold(value, Pressure::max);
    let share = value / highest;
    if share.is_finite() {
        share.clamp(0.0, 1.0)
    } else {
        0.0
    }
}
