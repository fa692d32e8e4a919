//! The verdict: rules decide, in this order: the card's limits, the comparison of cylinders,
//! published limits, and where none of them answers, what the card's dimensions let expect. Causes
//! explain a verdict and never take one away.

use super::case::Case;
use super::causes::turned_slowly;
use super::compare::gravity;
use super::level::card_doubted;
use super::results::{
    Cause, CauseKind, CylinderAssessment, Finding, Judgement, Origin, Quantity, Role,
};
use super::rules::RuleKind;
use super::saying::{Figure, Ground, Measurement, Reached, Read, Ruling, Saying, Share, Suspicion};
use crate::engine::{Condition, Ignition, ReadingOnly};
use crate::units::Pressure;

/// What was decided, and by what.
#[derive(Clone, Debug)]
pub(super) struct Verdict {
    pub judgement: Judgement,
    /// The finding that decided.
    pub by: Option<Finding<Saying>>,
    /// Places of cylinders without a usable reading in the condition that is judged.
    pub missing: Vec<usize>,
    /// Places of the cylinders that are below a limit.
    pub low: Vec<usize>,
    /// An own rule that comes to another end than a limit that decided.
    pub beside: Option<Finding<Saying>>,
}

/// Comes to a verdict.
pub(super) fn reach(case: &Case<'_>, findings: &[Finding<Saying>]) -> Verdict {
    let deciding: Vec<&Finding<Saying>> = findings.iter().filter(|f| decides(case, f)).collect();
    let (mut own, given): (Vec<&Finding<Saying>>, Vec<&Finding<Saying>>) =
        deciding.into_iter().partition(|f| f.origin == Origin::Own);
    // Where a limit gives a plain answer, what this program expects is heard only if it is plain.
    if given.iter().any(|f| f.judgement == Judgement::Pass) {
        own.retain(|f| f.judgement == Judgement::Fail);
    }
    let gravest = given.iter().chain(&own).copied().max_by(|a, b| {
        let said = |f: &Finding<Saying>| (gravity(f.judgement), core::cmp::Reverse(rank(f)));
        said(a)
            .cmp(&said(b))
            // Of cylinders that one limit says the same of, the worst speaks.
            .then_with(|| kept(b).total_cmp(&kept(a)))
    });
    let low = low(case, findings);
    let judged = gravest.map_or(Judgement::NotJudged, |f| f.judgement);
    let read = case.dry.map_or(0, |dry| case.of(dry).len());
    let alike = !low.is_empty() && low.len() == read;
    let missing = missing(case);
    let judgement = match judged {
        Judgement::Fail if alike && !plain(case, findings, &low) => Judgement::Unconfirmed,
        Judgement::Pass | Judgement::NotJudged if !missing.is_empty() && read > 0 => {
            Judgement::Incomplete
        }
        Judgement::TooCloseToCall if still_climbing(case, gravest) => Judgement::Incomplete,
        judged => judged,
    };
    Verdict {
        judgement,
        by: gravest.cloned(),
        missing,
        low,
        beside: beside(case, findings, judged, alike),
    }
}

/// Whether a finding counts: by a rule that decides, in the condition that is judged. That a
/// reading is enough to run on fails an engine and passes none.
fn decides(case: &Case<'_>, finding: &Finding<Saying>) -> bool {
    let passes = finding.judgement == Judgement::Pass;
    finding.role == Role::Decides
        && finding.judgement != Judgement::NotJudged
        && !(passes && kind(case, finding) == Some(RuleKind::LeastToRun))
}

/// The kind of the rule behind a finding; none for a limit of the card.
fn kind(case: &Case<'_>, finding: &Finding<Saying>) -> Option<RuleKind> {
    let rules = &case.rules.rules;
    let rule = rules.iter().find(|rule| rule.key == finding.rule)?;
    Some(rule.kind)
}

/// Which of two findings that say the same is named first.
fn rank(finding: &Finding<Saying>) -> u8 {
    match finding.origin {
        Origin::Card => 0,
        Origin::CommonPractice => 1,
        Origin::Published => 2,
        Origin::Own => 3,
    }
}

/// What was measured over what is asked for; 1 where the finding is about no number.
fn kept(finding: &Finding<Saying>) -> f64 {
    finding.amount.map_or(1.0, |a| a.measured / a.limit)
}

/// Cylinders that some rule that decides finds outside its limit. What this program expects counts
/// where no limit finds one.
fn low(case: &Case<'_>, findings: &[Finding<Saying>]) -> Vec<usize> {
    let outside = |own: bool| -> Vec<usize> {
        let fails = |name: &str| {
            findings.iter().any(|f| {
                f.role == Role::Decides
                    && f.judgement == Judgement::Fail
                    && (f.origin == Origin::Own) == own
                    && f.cylinders.iter().any(|c| c == name)
            })
        };
        (0..case.cylinders.len())
            .filter(|at| case.dry_entry(*at).is_some() && fails(case.name(*at)))
            .collect()
    };
    let by_limit = outside(false);
    if by_limit.is_empty() {
        outside(true)
    } else {
        by_limit
    }
}

/// All cylinders low alike (or the only one) are plainly so where the test is out of doubt: it was
/// seen to and not turned slowly, or oil lifted one by more than its volume explains.
fn plain(case: &Case<'_>, findings: &[Finding<Saying>], low: &[usize]) -> bool {
    let checked = case.card.and_then(|card| card.checked).unwrap_or_default();
    // A diesel has no throttle.
    let open = checked.throttle_open || case.ignition == Ignition::Compression;
    let seen_to = open && checked.tester_tight && !turned_slowly(case);
    let lifted = low.iter().any(|at| {
        findings.iter().any(|f| {
            f.condition == Some(Condition::Wet)
                && f.judgement == Judgement::Fail
                && kind(case, f) == Some(RuleKind::WetGain)
                && f.cylinders.iter().any(|c| c == case.name(*at))
        })
    });
    // Beside one another they differ by more than the rule allows: the lowest is low by itself.
    let apart = findings.iter().any(|f| {
        f.role == Role::Decides
            && f.judgement == Judgement::Fail
            && matches!(
                kind(case, f),
                Some(RuleKind::ShareOfHighest | RuleKind::Spread | RuleKind::ShareOfMean)
            )
    });
    seen_to || lifted || apart
}

/// Cylinders of the card or of the recording without a dry reading beside the others.
fn missing(case: &Case<'_>) -> Vec<usize> {
    (0..case.cylinders.len())
        .filter(|at| case.dry_entry(*at).is_none())
        .collect()
}

/// Whether what is too close to call is so for a needle that still climbed.
fn still_climbing(case: &Case<'_>, by: Option<&Finding<Saying>>) -> bool {
    by.is_some_and(|finding| {
        finding.cylinders.iter().any(|name| {
            let at = (0..case.cylinders.len()).find(|at| case.name(*at) == name);
            at.and_then(|at| case.dry_entry(at))
                .is_some_and(|entry| entry.at_least)
        })
    })
}

/// What this program expects, where it disagrees with a limit of the card that decided of all
/// cylinders alike.
fn beside(
    case: &Case<'_>,
    findings: &[Finding<Saying>],
    judged: Judgement,
    alike: bool,
) -> Option<Finding<Saying>> {
    let own = findings.iter().find(|f| {
        f.role == Role::Note && f.condition == case.dry && kind(case, f) == Some(RuleKind::AllLow)
    })?;
    let other = match judged {
        Judgement::Pass => own.judgement == Judgement::Fail,
        Judgement::Fail => alike && own.judgement == Judgement::Pass,
        _ => false,
    };
    other.then(|| own.clone())
}

/// The leading cause of the whole engine that is a matter of the test, if it leads everywhere.
pub(super) fn test_fault(cylinders: &[CylinderAssessment<Saying>]) -> Option<&Cause<Saying>> {
    let leading = || cylinders.iter().filter_map(|c| c.causes.first());
    let of_test = |cause: &&Cause<Saying>| cause.probability >= 0.5 && cause.kind.is_of_test();
    leading().find(of_test)
}

/// What the verdict says.
pub(super) fn ruling(
    case: &Case<'_>,
    verdict: &Verdict,
    cylinders: &[CylinderAssessment<Saying>],
) -> Ruling {
    let Some(dry) = case.dry else {
        let wet = !case.of(Condition::Wet).is_empty();
        return Ruling::Unread { wet };
    };
    let ground = |finding: &Option<Finding<Saying>>| ground(case, finding.as_ref()?);
    let judgement = verdict.judgement;
    Ruling::Reached(Box::new(Reached {
        judgement,
        by: ground(&verdict.by),
        several: case.of(dry).len() > 1,
        low: case.names(&verdict.low),
        missing: case.names(&verdict.missing),
        beside: ground(&verdict.beside),
        card_doubted: card_doubted(case).is_some(),
        cause: trouble(&verdict.low, cylinders).filter(|_| judgement != Judgement::Pass),
        test_fault: test_fault(cylinders).is_some(),
        throttle: case.ignition == Ignition::Spark,
        decompressor: case.kind.reading_only() == Some(ReadingOnly::AutomaticDecompressor),
    }))
}

/// What decided; none where it is about no number.
fn ground(case: &Case<'_>, finding: &Finding<Saying>) -> Option<Ground> {
    let amount = finding.amount?;
    let share = Share {
        share: amount.measured,
        standard: amount.standard,
        limit: amount.limit,
    };
    let limit = Pressure::from_pa(amount.limit);
    let figure = match kind(case, finding) {
        Some(RuleKind::ShareOfHighest) => Figure::ShareOfHighest {
            read: read(case, finding)?,
            share,
        },
        Some(RuleKind::ShareOfMean) => Figure::ShareOfMean {
            read: read(case, finding)?,
            share,
        },
        Some(RuleKind::Spread) => Figure::Spread {
            apart: Measurement {
                value: Pressure::from_pa(amount.measured),
                standard: Pressure::from_pa(amount.standard),
            },
            limit,
        },
        Some(RuleKind::AllLow) => Figure::AllLow {
            only: match finding.cylinders.as_slice() {
                [one] => Some(one.clone()),
                _ => None,
            },
            share,
        },
        _ if amount.quantity == Quantity::Pressure => Figure::Level {
            read: read(case, finding)?,
            limit,
        },
        _ => return None,
    };
    Some(Ground {
        figure,
        origin: finding.origin,
        source: finding.source.clone(),
    })
}

/// The reading that a finding is about.
fn read(case: &Case<'_>, finding: &Finding<Saying>) -> Option<Read> {
    let name = finding.cylinders.first()?;
    let condition = finding.condition?;
    let at = (0..case.cylinders.len()).find(|at| case.name(*at) == name)?;
    let entry = case.cylinders.get(at)?.entries.get(&condition)?;
    Some(case.read(at, condition, entry))
}

/// The most probable trouble of those that are low.
fn trouble(low: &[usize], cylinders: &[CylinderAssessment<Saying>]) -> Option<(Suspicion, f64)> {
    let leading = cylinders
        .iter()
        .enumerate()
        .filter(|(at, _)| low.is_empty() || low.contains(at))
        .filter_map(|(_, cylinder)| cylinder.causes.first())
        .filter(|cause| cause.kind != CauseKind::Healthy)
        .max_by(|a, b| a.probability.total_cmp(&b.probability))?;
    match &leading.text {
        Saying::Cause(suspicion) => Some((suspicion.clone(), leading.probability)),
        _ => None,
    }
}
