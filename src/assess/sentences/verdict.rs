//! The verdict.

use super::{listed, percent};
use crate::assess::case::Case;
use crate::assess::guard::decimals;
use crate::assess::level::card_doubted;
use crate::assess::results::{
    Amount, CauseKind, CylinderAssessment, Finding, Judgement, Origin, Quantity,
};
use crate::assess::rules::RuleKind;
use crate::assess::verdict::{Verdict, test_fault};
use crate::engine::{Condition, Ignition, ReadingOnly};
use crate::units::Pressure;

/// The verdict, with cylinder, reading, limit and where the limit comes from.
pub(in crate::assess) fn verdict(
    case: &Case<'_>,
    verdict: &Verdict,
    cylinders: &[CylinderAssessment],
) -> String {
    if case.dry.is_none() {
        let wet = !case.of(Condition::Wet).is_empty();
        return if wet {
            "There are only wet readings: nothing can be judged without a dry one.".to_owned()
        } else {
            "There is no usable reading: nothing can be judged.".to_owned()
        };
    }
    let mut parts = vec![main(case, verdict)];
    if verdict.judgement == Judgement::Fail && !verdict.missing.is_empty() {
        parts.push(format!(
            "No usable dry reading: {}.",
            names(case, &verdict.missing)
        ));
    }
    if let Some(own) = verdict.beside.as_ref().and_then(|own| short(case, own)) {
        parts.push(format!("Beside that, {own}."));
    }
    if card_doubted(case).is_some() {
        parts.push(
            "They are higher than the card predicts, and no leak does that: the card is wrong, or \
             there are deposits."
                .to_owned(),
        );
    }
    if verdict.judgement != Judgement::Pass {
        parts.extend(trouble(&verdict.low, cylinders));
    }
    parts.join(" ")
}

fn main(case: &Case<'_>, verdict: &Verdict) -> String {
    let by = verdict.by.as_ref().and_then(|by| short(case, by));
    let by = by.map_or_else(String::new, |by| format!(": {by}"));
    let several = case.dry.map_or(0, |dry| case.of(dry).len()) > 1;
    match verdict.judgement {
        Judgement::Pass if several => format!("Every cylinder is within the limits{by}."),
        Judgement::Pass => format!("Within the limits{by}."),
        Judgement::Fail if verdict.low.is_empty() => format!("Outside a limit{by}."),
        Judgement::Fail => {
            let fails = if verdict.low.len() > 1 {
                "fail"
            } else {
                "fails"
            };
            let who = listed(&named(case, &verdict.low));
            let by = match verdict.low.as_slice() {
                [only] => by.replacen(&format!("cylinder {}", case.name(*only)), "it", 1),
                _ => by,
            };
            format!("{} {fails}{by}.", capital(&who))
        }
        Judgement::Unconfirmed => {
            let who = if several {
                "All cylinders are low alike"
            } else {
                "Low"
            };
            let test = match case.ignition {
                Ignition::Spark => "throttle, starter or tester",
                Ignition::Compression => "starter or tester",
            };
            format!(
                "{who}, not confirmed{by}. Nothing rules out {test}: repeat it before anything is \
                 condemned."
            )
        }
        Judgement::TooCloseToCall => format!("Too close to call{by}."),
        Judgement::Incomplete if verdict.missing.is_empty() => {
            format!("Incomplete: a needle was still climbing when cranking ended{by}.")
        }
        Judgement::Incomplete => format!(
            "Incomplete: no usable dry reading of {}. What was read is not outside a limit{by}.",
            names(case, &verdict.missing)
        ),
        Judgement::NotJudged => not_judged(case),
    }
}

fn not_judged(case: &Case<'_>) -> String {
    if case.kind.reading_only() == Some(ReadingOnly::AutomaticDecompressor) {
        return "The readings are not judged: an automatic decompressor lets part of each stroke \
                out, and how much is not known."
            .to_owned();
    }
    "Not judged: there is nothing to hold the reading against, no other cylinder and no card that \
     says enough."
        .to_owned()
}

/// A finding in half a sentence; none where it is about no number.
fn short(case: &Case<'_>, finding: &Finding) -> Option<String> {
    let amount = finding.amount?;
    let rule = case
        .rules
        .rules
        .iter()
        .find(|rule| rule.key == finding.rule);
    let what = match rule.map(|rule| rule.kind) {
        Some(RuleKind::ShareOfHighest) => format!(
            "{}, {} of the highest; at least {} is asked for",
            reads(case, finding)?,
            share(&amount),
            percent_of(amount.limit)
        ),
        Some(RuleKind::ShareOfMean) => format!(
            "{}, {} of the mean; at least {} is asked for",
            reads(case, finding)?,
            share(&amount),
            percent_of(amount.limit)
        ),
        Some(RuleKind::Spread) => format!(
            "the cylinders lie {} apart; at most {} is allowed",
            pressure(case, &amount),
            case.show(Pressure::from_pa(amount.limit))
        ),
        Some(RuleKind::AllLow) => format!(
            "{} reads {} of what a sound one of these dimensions should",
            match finding.cylinders.as_slice() {
                [one] => format!("cylinder {one}"),
                _ => "the best".to_owned(),
            },
            share(&amount),
        ),
        _ if amount.quantity == Quantity::Pressure => format!(
            "{}; the limit is {} here",
            reads(case, finding)?,
            case.show(Pressure::from_pa(amount.limit))
        ),
        _ => return None,
    };
    Some(format!("{what} ({})", origin(finding)))
}

/// "cylinder 4 reads 117 ± 2 psi".
fn reads(case: &Case<'_>, finding: &Finding) -> Option<String> {
    let name = finding.cylinders.first()?;
    let at = (0..case.cylinders.len()).find(|at| case.name(*at) == name)?;
    let entry = case.cylinders.get(at)?.entries.get(&finding.condition?)?;
    let least = if entry.at_least { "at least " } else { "" };
    Some(format!(
        "cylinder {name} reads {least}{}",
        case.show_with(entry.value, entry.standard)
    ))
}

fn origin(finding: &Finding) -> &str {
    match finding.origin {
        Origin::Card => "the job card",
        Origin::CommonPractice => "common practice",
        Origin::Published => &finding.source,
        Origin::Own => "own calculation",
    }
}

fn share(amount: &Amount) -> String {
    let decimals = decimals(amount.measured, amount.limit, 0);
    format!(
        "{:.decimals$} ± {:.0} %",
        amount.measured * 100.0,
        (amount.standard * 200.0).max(1.0)
    )
}

fn percent_of(share: f64) -> String {
    format!("{:.0} %", share * 100.0)
}

fn pressure(case: &Case<'_>, amount: &Amount) -> String {
    case.show_with(
        Pressure::from_pa(amount.measured),
        Pressure::from_pa(amount.standard),
    )
}

/// The most probable trouble of those that are low, worded as what it is consistent with; a matter
/// of the test leads to its repeat.
fn trouble(low: &[usize], cylinders: &[CylinderAssessment]) -> Option<String> {
    let leading = cylinders
        .iter()
        .enumerate()
        .filter(|(at, _)| low.is_empty() || low.contains(at))
        .filter_map(|(_, cylinder)| cylinder.causes.first())
        .filter(|cause| cause.kind != CauseKind::Healthy)
        .max_by(|a, b| a.probability.total_cmp(&b.probability));
    let cause = leading?;
    let again = if test_fault(cylinders).is_some() {
        " Put the test right and repeat it."
    } else {
        ""
    };
    Some(format!(
        "{} ({}).{again}",
        cause.text.trim_end_matches('.'),
        percent(cause.probability)
    ))
}

fn named<'c>(case: &'c Case<'_>, places: &[usize]) -> Vec<&'c str> {
    places.iter().map(|at| case.name(*at)).collect()
}

fn names(case: &Case<'_>, places: &[usize]) -> String {
    listed(&named(case, places))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
