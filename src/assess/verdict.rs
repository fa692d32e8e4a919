//! The verdict: one judgement and one sentence.

use super::advice::test_fault;
use super::case::Case;
use super::compare::gravity;
use super::confirm::{only_rules_out, outside};
use super::level::card_doubted;
use super::results::{CauseKind, Comparison, CylinderAssessment, Finding, Judgement, Role};
use crate::engine::{Condition, ReadingOnly};

/// The engine's judgement: the gravest of what decides. A test that went wrong judges nothing;
/// nothing is condemned for one reason alone; and that it runs is no reason to pass it.
pub(super) fn judgement(
    case: &Case<'_>,
    findings: &[Finding],
    cylinders: &[CylinderAssessment],
) -> Judgement {
    if test_fault(cylinders).is_some() {
        return Judgement::NotJudged;
    }
    let counts = |finding: &&Finding| {
        let passes = finding.judgement == Judgement::Pass;
        finding.role == Role::Decides && !(passes && only_rules_out(case, finding))
    };
    let gravest = findings
        .iter()
        .filter(counts)
        .map(|finding| finding.judgement)
        .max_by_key(|judgement| gravity(*judgement))
        .unwrap_or(Judgement::NotJudged);
    let confirmed = || {
        outside(case, findings)
            .iter()
            .any(|(_, confirmed)| *confirmed)
    };
    if gravest == Judgement::Fail && !confirmed() {
        return Judgement::Unconfirmed;
    }
    gravest
}

/// The verdict in a sentence.
pub(super) fn sentence(
    case: &Case<'_>,
    judgement: Judgement,
    findings: &[Finding],
    cylinders: &[CylinderAssessment],
    comparisons: &[Comparison],
) -> String {
    if case.dry.is_none() {
        let wet = !case.of(Condition::Wet).is_empty();
        return if wet {
            "There are only wet readings: nothing can be judged without a dry one.".to_owned()
        } else {
            "There is no usable reading: nothing can be judged.".to_owned()
        };
    }
    if let Some(cause) = test_fault(cylinders) {
        return format!(
            "The test, not the engine, is in doubt ({}): {} Repeat it before judging.",
            percent(cause.probability),
            lower_first(&cause.text)
        );
    }
    let spread = comparisons
        .iter()
        .find(|comparison| Some(comparison.condition) == case.dry)
        .map(|c| {
            format!(
                " The lowest cylinder ({}) reads {:.0} % of the highest ({}).",
                c.lowest,
                c.share * 100.0,
                c.highest
            )
        })
        .unwrap_or_default();
    let decompressed = case.kind.reading_only() == Some(ReadingOnly::AutomaticDecompressor);
    let what = match judgement {
        Judgement::Pass => "The readings are within every limit that was applied.",
        Judgement::Fail => "The readings are outside a limit.",
        Judgement::Unconfirmed => {
            "A reading is outside a limit, and nothing else bears it out yet: repeat it before \
             anything is condemned."
        }
        Judgement::TooCloseToCall => "The readings are too close to a limit to call.",
        Judgement::NotJudged if runs_at_least(case, findings) => {
            "That is enough pressure to run on. Whether it is good cannot be said: there is \
             nothing to hold it against, no other cylinder and no card that says enough."
        }
        Judgement::NotJudged if decompressed => {
            "The readings are not judged: an automatic decompressor lets part of each stroke out, \
             and how much is not known."
        }
        Judgement::NotJudged => "No limit could be applied to these readings.",
    };
    let card = match card_doubted(case) {
        Some(_) => {
            " They are more than the card lets expect, and no leak does that: the card is wrong, \
             or there are deposits."
        }
        None => "",
    };
    format!("{what}{spread}{card}{}", trouble(cylinders))
}

/// Whether some limit was kept that only a running engine keeps.
fn runs_at_least(case: &Case<'_>, findings: &[Finding]) -> bool {
    findings.iter().any(|finding| {
        finding.role == Role::Decides
            && finding.judgement == Judgement::Pass
            && only_rules_out(case, finding)
    })
}

/// The most probable trouble, worded as what it is consistent with.
fn trouble(cylinders: &[CylinderAssessment]) -> String {
    cylinders
        .iter()
        .filter_map(|cylinder| cylinder.causes.first())
        .filter(|cause| cause.kind != CauseKind::Healthy)
        .max_by(|a, b| a.probability.total_cmp(&b.probability))
        .map(|cause| {
            format!(
                " {} ({})",
                cause.text.trim_end_matches('.'),
                percent(cause.probability)
            )
        })
        .map(|text| format!("{text}."))
        .unwrap_or_default()
}

/// A probability in words: never rounded to a certainty.
pub(super) fn percent(probability: f64) -> String {
    if probability > 0.99 {
        "over 99 %".to_owned()
    } else if probability < 0.01 {
        "under 1 %".to_owned()
    } else {
        format!("{:.0} %", probability * 100.0)
    }
}

fn lower_first(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::percent;

    #[test]
    fn a_probability_is_never_rounded_to_a_certainty() {
        assert_eq!(percent(1.0), "over 99 %");
        assert_eq!(percent(0.9951), "over 99 %");
        assert_eq!(percent(0.99), "99 %");
        assert_eq!(percent(0.501), "50 %");
        assert_eq!(percent(0.004), "under 1 %");
    }
}
