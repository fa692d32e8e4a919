//! Each cylinder's level: against the card's limits, what an engine needs to run, and what this
//! engine should give.

mod against;
mod judged;

pub(super) use self::against::{card_limits, expected_for, limit_factor};
use self::judged::{Judged, OfExpected};
use super::case::Case;
use super::guard::{at_least, at_most, judge, normal_below};
use super::results::{Amount, ExpectedReading, Finding, Judgement, Quantity, Role};
use super::rules::RuleKind;
use super::saying::{Applied, Note, Saying, Share};
use crate::engine::expected;
use crate::engine::{AmbientKnown, Condition};
use crate::units::Pressure;

/// An engine is low when no more than this share of sound ones of its dimensions would read so
/// little. Tuned on seed 31.
const RARE: f64 = 0.015;

/// What a healthy cylinder should read in each condition measured.
pub(super) fn expectations(case: &Case<'_>) -> Vec<ExpectedReading<Saying>> {
    Condition::ALL
        .into_iter()
        .filter(|condition| *condition != Condition::Wet)
        .filter_map(|condition| {
            let crank = case.of(condition).iter().find_map(|(_, entry)| entry.crank);
            let measured = !case.of(condition).is_empty();
            let expected = expected::expected(case.card?, &case.ambient, crank, condition)?;
            let margin = expected.standard * 2.0;
            measured.then(|| ExpectedReading {
                condition,
                low: (expected.likely - margin).max(Pressure::ZERO),
                likely: expected.likely,
                high: expected.likely + margin,
                basis: Saying::Basis(expected.basis),
            })
        })
        .collect()
}

/// Every finding about levels.
pub(super) fn findings(case: &Case<'_>) -> Vec<Finding<Saying>> {
    let mut found = Vec::new();
    for condition in [Condition::ColdDry, Condition::WarmDry] {
        for (at, entry) in case.of(condition) {
            let level = Judged {
                case,
                condition,
                at,
                entry,
            };
            found.extend(level.findings());
        }
    }
    found.extend(all_low(case));
    found.extend(card_doubted(case));
    found
}

/// A finding about all cylinders together: even the best of them is low, or it reads the rule's
/// share of what it should for sure. Beside a limit of the card it only notes.
fn all_low(case: &Case<'_>) -> Option<Finding<Saying>> {
    let rule = case.rules.first(RuleKind::AllLow, case.ignition)?;
    let condition = case.dry?;
    let readings = case.of(condition);
    let shares: Vec<OfExpected> = readings
        .iter()
        .map(|(at, entry)| {
            let level = Judged {
                case,
                condition,
                at: *at,
                entry,
            };
            level.of_expected()
        })
        .collect::<Option<_>>()?;
    let best = shares
        .iter()
        .max_by(|a, b| a.share.total_cmp(&b.share))
        .filter(|best| best.share > 0.0)?;
    // How many sound engines of these dimensions would read as little or less.
    let rarer = normal_below(libm::log(best.share) / (best.standard / best.share));
    let p = at_least(best.share, best.standard, rule.limit);
    let judgement = if rarer < RARE {
        Judgement::Fail
    } else if p >= case.rules.decision {
        Judgement::Pass
    } else {
        Judgement::TooCloseToCall
    };
    let applied = Applied::AllLow {
        cylinders: shares.len(),
        share: Share {
            share: best.share,
            standard: best.standard,
            limit: rule.limit,
        },
        likely: best.likely,
    };
    Some(Finding {
        rule: rule.key.clone(),
        cylinders: readings
            .iter()
            .map(|(at, _)| case.name(*at).to_owned())
            .collect(),
        condition: Some(condition),
        amount: Some(Amount {
            quantity: Quantity::Share,
            measured: best.share,
            standard: best.standard,
            limit: rule.limit,
        }),
        text: Saying::Rule(applied, judgement),
        judgement,
        role: if card_limits(case) {
            Role::Note
        } else {
            rule.role
        },
        probability_within: Some(p),
        origin: rule.origin(),
        source: rule.source.clone(),
    })
}

/// A finding where every cylinder reads more than the card predicts.
pub(super) fn card_doubted(case: &Case<'_>) -> Option<Finding<Saying>> {
    let rule = case.rules.first(RuleKind::AboveExpected, case.ignition)?;
    let condition = case.dry?;
    let shares: Vec<(f64, f64)> = case
        .of(condition)
        .into_iter()
        .map(|(at, entry)| {
            let level = Judged {
                case,
                condition,
                at,
                entry,
            };
            level.of_expected().map(|of| (of.share, of.standard))
        })
        .collect::<Option<_>>()?;
    // The least sure of them speaks for all: what they share, the card, makes most of the doubt.
    let p = shares
        .iter()
        .map(|(share, standard)| at_most(*share, *standard, 1.0 + rule.limit))
        .fold(0.0, f64::max);
    let by_share = |a: &&(f64, f64), b: &&(f64, f64)| a.0.total_cmp(&b.0);
    let (lowest, highest) = (
        shares.iter().min_by(by_share)?,
        shares.iter().max_by(by_share)?,
    );
    if judge(p, case.rules.decision) != Judgement::Fail {
        return None;
    }
    let names: Vec<String> = case
        .of(condition)
        .into_iter()
        .map(|(at, _)| case.name(at).to_owned())
        .collect();
    let applied = Applied::CardDoubted {
        only: (shares.len() == 1).then(|| names.concat()),
        lowest: lowest.0,
        highest: highest.0,
        standard: highest.1,
    };
    Some(Finding {
        rule: rule.key.clone(),
        cylinders: names,
        // About the card, not about a round: no cylinder is to be wetted for it.
        condition: None,
        text: Saying::Rule(applied, Judgement::Fail),
        amount: Some(Amount {
            quantity: Quantity::Share,
            measured: lowest.0,
            standard: lowest.1,
            limit: 1.0 + rule.limit,
        }),
        judgement: Judgement::Fail,
        role: Role::Note,
        probability_within: Some(p),
        origin: rule.origin(),
        source: rule.source.clone(),
    })
}

/// What was taken for granted about the air.
pub(super) fn ambient_note(case: &Case<'_>) -> Option<Note> {
    let absolute = case.ambient.absolute;
    match case.ambient.known {
        AmbientKnown::Given => None,
        AmbientKnown::FromAltitude => Some(Note::AmbientFromHeight(absolute)),
        AmbientKnown::Assumed => Some(Note::SeaLevelAssumed(absolute)),
    }
}
