//! The cylinders of one condition beside each other, by every rule of comparison.

use super::case::Case;
use super::correct::corrected;
use super::guard::{at_least, at_most, judge};
use super::results::{Amount, Comparison, Finding, Judgement, Origin, Quantity, Role};
use super::rules::{Rule, RuleKind};
use super::saying::{Applied, Measurement, Saying, Share};
use crate::engine::Condition;
use crate::units::Pressure;

/// A cylinder's level for a comparison, with standard uncertainty.
#[derive(Clone, Copy, Debug)]
struct Compared {
    at: usize,
    raw: Pressure,
    value: Pressure,
    standard: Pressure,
    corrected: bool,
}

/// The comparison of one condition and what each rule says of it; none with fewer than two
/// readings.
pub(super) fn compare(
    case: &Case<'_>,
    condition: Condition,
) -> Option<(Comparison, Vec<Finding<Saying>>)> {
    let levels = levels(case, condition);
    let (lowest, highest) = ends(&levels)?;
    let (raw_lowest, raw_highest) = raw_ends(&levels)?;
    let share = ratio(lowest.value, highest.value);
    let share_standard = share
        * libm::hypot(
            ratio(lowest.standard, lowest.value),
            ratio(highest.standard, highest.value),
        );
    let round = Round {
        case,
        condition,
        levels: &levels,
        lowest,
        highest,
        share,
        share_standard,
    };
    let findings = round.findings();
    let judgement = findings
        .iter()
        .filter(|finding| finding.role == Role::Decides)
        .map(|finding| finding.judgement)
        .max_by_key(|judgement| gravity(*judgement))
        .unwrap_or(Judgement::NotJudged);
    let comparison = Comparison {
        condition,
        highest: case.name(raw_highest.at).to_owned(),
        highest_pressure: raw_highest.raw,
        lowest: case.name(raw_lowest.at).to_owned(),
        lowest_pressure: raw_lowest.raw,
        share: ratio(raw_lowest.raw, raw_highest.raw),
        share_expanded: 2.0 * share_standard,
        corrected_share: lowest.corrected.then_some(share),
        judgement,
    };
    Some((comparison, findings))
}

/// How much a judgement weighs when several are taken together.
pub(super) const fn gravity(judgement: Judgement) -> u8 {
    match judgement {
        Judgement::NotJudged => 0,
        Judgement::Pass => 1,
        Judgement::TooCloseToCall => 2,
        Judgement::Incomplete => 3,
        Judgement::Unconfirmed => 4,
        Judgement::Fail => 5,
    }
}

/// Corrected readings where every cylinder has one, raw readings otherwise: never a mixture.
fn levels(case: &Case<'_>, condition: Condition) -> Vec<Compared> {
    let entries = case.of(condition);
    let corrections: Option<Vec<_>> = entries
        .iter()
        .map(|(_, entry)| corrected(case, condition, entry))
        .collect();
    entries
        .iter()
        .enumerate()
        .map(|(n, (at, entry))| {
            let better = corrections.as_ref().and_then(|all| all.get(n));
            // Where the needle still climbed: half way to where it was heading.
            let (judged, left) = entry.judged();
            let on = judged / entry.value;
            let on = if on.is_finite() { on } else { 1.0 };
            let standard = better.map_or(entry.relative, |c| c.expanded_relative * 0.5);
            Compared {
                at: *at,
                raw: entry.value,
                value: better.map_or(entry.value, |c| c.value) * on,
                standard: Pressure::from_pa(libm::hypot(standard.pa(), left.pa())),
                corrected: better.is_some(),
            }
        })
        .collect()
}

fn ends(levels: &[Compared]) -> Option<(Compared, Compared)> {
    picked(levels, |level| level.value)
}

fn raw_ends(levels: &[Compared]) -> Option<(Compared, Compared)> {
    picked(levels, |level| level.raw)
}

/// Lowest and highest; none with fewer than two levels or nothing above zero.
fn picked(levels: &[Compared], by: impl Fn(&Compared) -> Pressure) -> Option<(Compared, Compared)> {
    if levels.len() < 2 {
        return None;
    }
    let order = |a: &&Compared, b: &&Compared| by(a).pa().total_cmp(&by(b).pa());
    let lowest = levels.iter().min_by(order)?;
    let highest = levels.iter().max_by(order)?;
    (by(highest).pa() > 0.0).then_some((*lowest, *highest))
}

/// A ratio of pressures, not below 0; 0 where it has no meaning.
fn ratio(part: Pressure, whole: Pressure) -> f64 {
    let ratio = part / whole;
    if ratio.is_finite() {
        ratio.max(0.0)
    } else {
        0.0
    }
}

/// One condition's levels, ready to be held against rules.
struct Round<'v, 'a> {
    case: &'v Case<'a>,
    condition: Condition,
    levels: &'v [Compared],
    lowest: Compared,
    highest: Compared,
    share: f64,
    share_standard: f64,
}

impl Round<'_, '_> {
    fn findings(&self) -> Vec<Finding<Saying>> {
        let rules = self.case.rules.rules.iter().filter(|rule| {
            rule.ignition
                .is_none_or(|wanted| wanted == self.case.ignition)
        });
        rules.filter_map(|rule| self.apply(rule)).collect()
    }

    fn apply(&self, rule: &Rule) -> Option<Finding<Saying>> {
        match rule.kind {
            RuleKind::ShareOfHighest => Some(self.share_of_highest(rule)),
            RuleKind::Spread => Some(self.spread(rule, rule.pressure()?)),
            RuleKind::ShareOfMean => self.share_of_mean(rule),
            _ => None,
        }
    }

    fn finding(
        &self,
        rule: &Rule,
        amount: Amount,
        probability: f64,
        applied: Applied,
    ) -> Finding<Saying> {
        let mut judgement = judge(probability, self.case.rules.decision);
        if rule.passes_from.is_some_and(|from| probability >= from) {
            judgement = Judgement::Pass;
        }
        // A wet engine is oiled on purpose, and unevenly; only dry cylinders are judged.
        let role = if self.condition == Condition::Wet {
            Role::Note
        } else {
            rule.role
        };
        Finding {
            rule: rule.key.clone(),
            cylinders: vec![self.case.name(self.lowest.at).to_owned()],
            condition: Some(self.condition),
            amount: Some(amount),
            text: Saying::Rule(applied, judgement),
            judgement,
            role,
            probability_within: Some(probability),
            origin: rule.origin(),
            source: rule.source.clone(),
        }
    }

    fn share_of_highest(&self, rule: &Rule) -> Finding<Saying> {
        let probability = at_least(self.share, self.share_standard, rule.limit);
        let applied = Applied::ShareOfHighest {
            cylinder: self.case.name(self.lowest.at).to_owned(),
            highest: self.case.name(self.highest.at).to_owned(),
            share: Share {
                share: self.share,
                standard: self.share_standard,
                limit: rule.limit,
            },
            corrected: self.lowest.corrected,
        };
        let amount = Amount {
            quantity: Quantity::Share,
            measured: self.share,
            standard: self.share_standard,
            limit: rule.limit,
        };
        self.finding(rule, amount, probability, applied)
    }

    fn spread(&self, rule: &Rule, limit: Pressure) -> Finding<Saying> {
        let spread = self.highest.value - self.lowest.value;
        let standard = Pressure::from_pa(libm::hypot(
            self.highest.standard.pa(),
            self.lowest.standard.pa(),
        ));
        let probability = at_most(spread.pa(), standard.pa(), limit.pa());
        let applied = Applied::Spread {
            highest: self.case.name(self.highest.at).to_owned(),
            lowest: self.case.name(self.lowest.at).to_owned(),
            apart: Measurement {
                value: spread,
                standard,
            },
            limit,
            corrected: self.lowest.corrected,
        };
        let amount = Amount {
            quantity: Quantity::Pressure,
            measured: spread.pa(),
            standard: standard.pa(),
            limit: limit.pa(),
        };
        self.finding(rule, amount, probability, applied)
    }

    /// The mean includes the low cylinder, as the rule says.
    fn share_of_mean(&self, rule: &Rule) -> Option<Finding<Saying>> {
        let count = self.levels.len() as f64;
        let sum = self
            .levels
            .iter()
            .fold(Pressure::ZERO, |sum, level| sum + level.value);
        let mean = sum / count;
        let share = ratio(self.lowest.value, mean);
        // d(share)/d(lowest) = (1 − share/count)/mean; the others enter through the mean alone.
        let own = self.lowest.standard.pa() * (1.0 - share / count);
        let others: f64 = self
            .levels
            .iter()
            .filter(|level| level.at != self.lowest.at)
            .map(|level| {
                let part = level.standard.pa() * share / count;
                part * part
            })
            .sum();
        let standard = libm::sqrt(own * own + others) / mean.pa();
        let probability = at_least(share, standard, rule.limit);
        let applied = Applied::ShareOfMean {
            cylinder: self.case.name(self.lowest.at).to_owned(),
            share: Share {
                share,
                standard,
                limit: rule.limit,
            },
            corrected: self.lowest.corrected,
        };
        let amount = Amount {
            quantity: Quantity::Share,
            measured: share,
            standard,
            limit: rule.limit,
        };
        standard
            .is_finite()
            .then(|| self.finding(rule, amount, probability, applied))
    }
}

/// Where published rules come to different ends on these readings.
pub(super) fn disagreement(findings: &[Finding<Saying>], dry: Condition) -> Option<Saying> {
    let of = |wanted: Judgement| -> Vec<(String, String)> {
        findings
            .iter()
            .filter(|f| f.condition == Some(dry) && f.judgement == wanted)
            .filter(|f| matches!(f.role, Role::Decides | Role::SecondOpinion))
            .filter(|f| f.origin == Origin::Published)
            .map(|f| (f.rule.clone(), f.source.clone()))
            .collect()
    };
    let (passed, failed) = (of(Judgement::Pass), of(Judgement::Fail));
    (!passed.is_empty() && !failed.is_empty()).then_some(Saying::Disagreement { passed, failed })
}
