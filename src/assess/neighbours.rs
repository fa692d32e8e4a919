//! Two neighbours, both low and about alike: the sign of a gasket.

use super::case::Case;
use super::guard::{at_most, judge, normal_below};
use super::results::{Amount, Finding, Quantity, Role};
use super::rules::{Rule, RuleKind};
use super::saying::{Applied, Saying};

/// Findings about pairs of neighbours.
pub(super) fn findings(case: &Case<'_>) -> Vec<Finding<Saying>> {
    let Some(rule) = case.rules.first(RuleKind::NeighboursEven, case.ignition) else {
        return Vec::new();
    };
    let Some(low_below) = case
        .rules
        .first(RuleKind::ShareOfHighest, case.ignition)
        .map_or(Some(0.9), |rule| Some(rule.limit))
    else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for (at, cylinder) in case.cylinders.iter().enumerate() {
        for &other in cylinder.neighbours.iter().filter(|other| **other > at) {
            found.extend(pair(case, at, other, low_below, rule));
        }
    }
    found
}

/// A finding where both of a pair are low beside the rest of the engine.
fn pair(
    case: &Case<'_>,
    at: usize,
    other: usize,
    low_below: f64,
    rule: &Rule,
) -> Option<Finding<Saying>> {
    let condition = case.dry?;
    let (a, b) = (case.dry_entry(at)?, case.dry_entry(other)?);
    let rest = case
        .of(condition)
        .into_iter()
        .filter(|(n, _)| *n != at && *n != other)
        .map(|(_, entry)| entry)
        .max_by(|x, y| x.value.pa().total_cmp(&y.value.pa()))?;
    let limit = rest.value * low_below;
    let low = [a, b].into_iter().all(|entry| {
        let standard = libm::hypot(entry.relative.pa(), rest.relative.pa() * low_below);
        let gap = (limit - entry.value).pa();
        gap > 0.0 && (standard <= 0.0 || normal_below(gap / standard) >= case.rules.decision)
    });
    let mean = (a.value + b.value).pa() / 2.0;
    if !low || mean <= 0.0 {
        return None;
    }
    let apart = (a.value - b.value).abs().pa() / mean;
    let standard = libm::hypot(a.relative.pa(), b.relative.pa()) / mean;
    let p = at_most(apart, standard, rule.limit);
    let judgement = judge(p, case.rules.decision);
    let pair = [case.name(at).to_owned(), case.name(other).to_owned()];
    Some(Finding {
        rule: rule.key.clone(),
        cylinders: pair.to_vec(),
        condition: Some(condition),
        amount: Some(Amount {
            quantity: Quantity::Share,
            measured: apart,
            standard,
            limit: rule.limit,
        }),
        text: Saying::Rule(
            Applied::Neighbours {
                pair,
                apart,
                standard,
            },
            judgement,
        ),
        judgement,
        role: Role::Note,
        probability_within: Some(p),
        origin: rule.origin(),
        source: rule.source.clone(),
    })
}
