//! More than one independent reason before anything is condemned.
//!
//! One low reading may be an adapter that did not seal, or a crumb of carbon under a valve that
//! the next start blows out. So a cylinder is judged to fail where two things say so that do not
//! hang on the same mistake (own rule; that a low cylinder is tested again before it is condemned
//! is common practice, no source):
//! - it is low beside the other cylinders, and below a limit of the card or of the rules;
//! - it was read twice: a second dry reading that is no better, or a wet one;
//! - its neighbour is low alike, as a gasket between the two would have it.
//!
//! Otherwise it is low, and not confirmed.

use super::case::Case;
use super::results::{Finding, Judgement, Role};
use super::rules::RuleKind;
use crate::engine::Condition;

/// A second dry reading bears the first one out up to this multiple of it.
const NO_BETTER: f64 = 1.05;

/// Places of the cylinders that are outside a limit that decides, each with whether that is
/// confirmed.
pub(super) fn outside(case: &Case<'_>, findings: &[Finding]) -> Vec<(usize, bool)> {
    let of = |at: usize| Outside { case, findings, at };
    (0..case.cylinders.len())
        .map(of)
        .filter(|one| one.compared() || one.below_a_limit())
        .map(|one| (one.at, one.confirmed()))
        .collect()
}

/// A cylinder that is outside a limit.
struct Outside<'o, 'a> {
    case: &'o Case<'a>,
    findings: &'o [Finding],
    at: usize,
}

impl Outside<'_, '_> {
    fn confirmed(&self) -> bool {
        let reasons = [
            self.compared(),
            self.below_a_limit(),
            self.read_twice(),
            self.neighbour_alike(),
        ];
        reasons.into_iter().filter(|reason| *reason).count() > 1
    }

    /// Low beside the other cylinders.
    fn compared(&self) -> bool {
        self.fails(true)
    }

    /// Below a limit of its own.
    fn below_a_limit(&self) -> bool {
        self.fails(false)
    }

    fn fails(&self, by_comparison: bool) -> bool {
        self.about().any(|finding| {
            finding.role == Role::Decides
                && finding.judgement == Judgement::Fail
                && compares(self.case, finding) == by_comparison
        })
    }

    /// Another reading of it that bears the first one out. With oil it may rise: that is rings.
    fn read_twice(&self) -> bool {
        let (Some(cylinder), Some(counted)) = (
            self.case.cylinders.get(self.at),
            self.case.dry_entry(self.at),
        ) else {
            return false;
        };
        cylinder.all.iter().any(|(condition, entry)| {
            *condition == Condition::Wet
                || (entry.run != counted.run && entry.value <= counted.value * NO_BETTER)
        })
    }

    fn neighbour_alike(&self) -> bool {
        let rule = self
            .case
            .rules
            .first(RuleKind::NeighboursEven, self.case.ignition);
        rule.is_some_and(|rule| {
            self.about()
                .any(|f| f.rule == rule.key && f.judgement == Judgement::Pass)
        })
    }

    fn about(&self) -> impl Iterator<Item = &Finding> {
        let name = self.case.name(self.at);
        let names = move |finding: &&Finding| finding.cylinders.iter().any(|c| c == name);
        self.findings.iter().filter(names)
    }
}

/// Whether a finding compares cylinders with each other.
fn compares(case: &Case<'_>, finding: &Finding) -> bool {
    matches!(
        kind(case, finding),
        Some(RuleKind::ShareOfHighest | RuleKind::Spread | RuleKind::ShareOfMean)
    )
}

/// Whether keeping a limit says no more than that the engine runs: that fails an engine and
/// passes none.
pub(super) fn only_rules_out(case: &Case<'_>, finding: &Finding) -> bool {
    matches!(
        kind(case, finding),
        Some(RuleKind::LeastToRun | RuleKind::HardlyRuns)
    )
}

/// The kind of the rule behind a finding; none for a limit of the card.
fn kind(case: &Case<'_>, finding: &Finding) -> Option<RuleKind> {
    let rules = &case.rules.rules;
    let rule = rules.iter().find(|rule| rule.key == finding.rule)?;
    Some(rule.kind)
}
