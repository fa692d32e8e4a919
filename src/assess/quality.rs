//! Rules about the test itself: strokes enough, and about the same number in every cylinder.

use super::case::Case;
use super::results::{Amount, Finding, Judgement, Quantity, Role};
use super::rules::RuleKind;
use super::saying::{Applied, Saying};
use crate::signal::Turned;

/// Findings about how the runs were made.
pub(super) fn findings(case: &Case<'_>) -> Vec<Finding<Saying>> {
    let mut found = too_few(case);
    found.extend(uneven(case));
    found
}

/// A run that stopped while the needle climbed, before the strokes that a manual asks for.
fn too_few(case: &Case<'_>) -> Vec<Finding<Saying>> {
    let Some(rule) = case.rules.first(RuleKind::LeastStrokes, case.ignition) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for cylinder in &case.cylinders {
        for (condition, entry) in &cylinder.entries {
            let strokes = entry.result.strokes.len();
            // A manual's strokes are a starter's; kicks make two or three each.
            let kicked = entry.result.turned == Turned::InKicks;
            if kicked || !entry.at_least || strokes as f64 >= rule.limit {
                continue;
            }
            let applied = Applied::TooFewStrokes {
                cylinder: cylinder.name.clone(),
                condition: *condition,
                strokes,
                least: rule.limit,
            };
            found.push(Finding {
                rule: rule.key.clone(),
                cylinders: vec![cylinder.name.clone()],
                condition: Some(*condition),
                amount: Some(count(strokes as f64, rule.limit)),
                text: Saying::Rule(applied, Judgement::Fail),
                judgement: Judgement::Fail,
                role: Role::Note,
                probability_within: None,
                origin: rule.origin(),
                source: rule.source.clone(),
            });
        }
    }
    found
}

/// A cylinder that took many more (or fewer) strokes to its highest than the others.
fn uneven(case: &Case<'_>) -> Vec<Finding<Saying>> {
    let (Some(rule), Some(condition)) = (
        case.rules.first(RuleKind::StrokeEvenness, case.ignition),
        case.dry,
    ) else {
        return Vec::new();
    };
    let counted: Vec<(usize, u32)> = case
        .of(condition)
        .into_iter()
        .filter_map(|(at, entry)| {
            let call = entry.result.call.as_ref()?;
            Some((at, call.count))
        })
        .collect();
    let kicked = case
        .of(condition)
        .iter()
        .any(|(_, entry)| entry.result.turned == Turned::InKicks);
    let mut strokes: Vec<u32> = counted.iter().map(|(_, strokes)| *strokes).collect();
    strokes.sort_unstable();
    let Some(median) = strokes
        .get(strokes.len() / 2)
        .copied()
        .filter(|_| strokes.len() > 2)
    else {
        return Vec::new();
    };
    counted
        .into_iter()
        .filter(|(_, strokes)| f64::from(strokes.abs_diff(median)) > rule.limit)
        .map(|(at, strokes)| Finding {
            rule: rule.key.clone(),
            cylinders: vec![case.name(at).to_owned()],
            condition: Some(condition),
            amount: Some(count(f64::from(strokes.abs_diff(median)), rule.limit)),
            text: Saying::Rule(
                Applied::UnevenStrokes {
                    cylinder: case.name(at).to_owned(),
                    count: strokes,
                    median,
                    kicked,
                },
                Judgement::Fail,
            ),
            judgement: Judgement::Fail,
            role: Role::Note,
            probability_within: None,
            origin: rule.origin(),
            source: rule.source.clone(),
        })
        .collect()
}

fn count(measured: f64, limit: f64) -> Amount {
    Amount {
        quantity: Quantity::Count,
        measured,
        standard: 0.0,
        limit,
    }
}
