//! One reading held against a limit, a rule of thumb, and what the engine should give.

use super::against::{card_limits, expected_for, limit_factor};
use crate::assess::case::{Case, Entry};
use crate::assess::guard::{at_least, at_most, judge};
use crate::assess::results::{Amount, Finding, Judgement, Origin, Quantity, Role};
use crate::assess::rules::{Rule, RuleKind};
use crate::assess::saying::{Applied, LimitHere, Read, Saying, Share};
use crate::engine::expected::Basis;
use crate::engine::{Condition, Limits};
use crate::units::Pressure;

/// A limit of the card counts under this name; it is the maker's word, not a rule of ours.
const CARD: &str = "the job card";

/// A reading beside its expectation.
pub(super) struct OfExpected {
    pub(super) share: f64,
    /// Standard uncertainty of the share.
    pub(super) standard: f64,
    pub(super) likely: Pressure,
}

/// On whose word.
#[derive(Clone, Copy)]
struct Said<'s> {
    rule: &'s str,
    source: &'s str,
    origin: Origin,
    role: Role,
}

impl<'s> Said<'s> {
    fn by(rule: &'s Rule) -> Self {
        Self {
            rule: &rule.key,
            source: &rule.source,
            origin: rule.origin(),
            role: rule.role,
        }
    }
}

/// One reading to be judged.
pub(super) struct Judged<'l, 'a> {
    pub(super) case: &'l Case<'a>,
    pub(super) condition: Condition,
    pub(super) at: usize,
    pub(super) entry: &'l Entry<'a>,
}

impl Judged<'_, '_> {
    pub(super) fn findings(&self) -> Vec<Finding<Saying>> {
        let case = self.case;
        let mut found = Vec::new();
        if let Some(limits) = case.card.and_then(|card| card.limits.as_ref()) {
            found.extend(self.service_limit(limits));
        }
        for rule in &case.rules.rules {
            if rule.ignition.is_some_and(|wanted| wanted != case.ignition) {
                continue;
            }
            found.extend(self.apply(rule));
        }
        found.extend(self.above_the_possible());
        found
    }

    fn apply(&self, rule: &Rule) -> Option<Finding<Saying>> {
        let limits = self.case.card.and_then(|card| card.limits.as_ref());
        match rule.kind {
            RuleKind::LeastToRun => Some(self.to_run(rule, rule.pressure()?)),
            RuleKind::BelowNormal => {
                let normal = limits?.normal_low?;
                Some(self.below_normal(rule, normal, rule.pressure()?))
            }
            RuleKind::AboveNormal => {
                let normal = limits?.normal_high?;
                Some(self.above_normal(rule, normal, rule.pressure()?))
            }
            RuleKind::ShareOfExpected => self.share_of_expected(rule),
            _ => None,
        }
    }

    /// Builds the finding from the probability that the limit is kept.
    fn finding(&self, said: Said<'_>, amount: Amount, p: f64, applied: Applied) -> Finding<Saying> {
        let judgement = judge(p, self.case.rules.decision);
        Finding {
            rule: said.rule.to_owned(),
            cylinders: vec![self.case.name(self.at).to_owned()],
            condition: Some(self.condition),
            amount: Some(amount),
            text: Saying::Rule(applied, judgement),
            judgement,
            role: self.role(said.role),
            probability_within: Some(p),
            origin: said.origin,
            source: said.source.to_owned(),
        }
    }

    /// The reading held against a pressure.
    fn against(&self, limit: Pressure) -> Amount {
        let (judged, standard) = self.judged();
        Amount {
            quantity: Quantity::Pressure,
            measured: judged.pa(),
            standard: standard.pa(),
            limit: limit.pa(),
        }
    }

    /// What a limit is held against, with its standard uncertainty.
    fn judged(&self) -> (Pressure, Pressure) {
        let (judged, left) = self.entry.judged();
        let standard = libm::hypot(self.entry.standard.pa(), left.pa());
        (judged, Pressure::from_pa(standard))
    }

    /// Limits are meant for a warm engine: what a cold one reads only notes them, unless warm
    /// readings are missing altogether.
    fn role(&self, role: Role) -> Role {
        let other = self.case.dry != Some(self.condition);
        if other { Role::Note } else { role }
    }

    fn read(&self) -> Read {
        self.case.read(self.at, self.condition, self.entry)
    }

    /// A sea-level limit as it stands here.
    fn here(&self, limit: Pressure) -> LimitHere {
        let factor = limit_factor(self.case);
        LimitHere {
            at_sea_level: limit,
            here: limit * factor,
            factor,
            by: self.case.rules.altitude,
        }
    }

    fn service_limit(&self, limits: &Limits) -> Option<Finding<Saying>> {
        let limit = self.here(limits.service_limit?);
        let p = self.at_least(limit.here);
        let applied = Applied::ServiceLimit {
            read: self.read(),
            limit,
        };
        let said = Said {
            rule: "service-limit",
            source: CARD,
            origin: Origin::Card,
            role: Role::Decides,
        };
        Some(self.finding(said, self.against(limit.here), p, applied))
    }

    fn to_run(&self, rule: &Rule, limit: Pressure) -> Finding<Saying> {
        let limit = self.here(limit);
        let p = self.at_least(limit.here);
        let card_instead = rule.yields_to_card && self.card_knows_better();
        let role = if card_instead { Role::Note } else { rule.role };
        let applied = Applied::ToRun {
            read: self.read(),
            limit,
            card_instead,
        };
        let said = Said {
            role,
            ..Said::by(rule)
        };
        self.finding(said, self.against(limit.here), p, applied)
    }

    /// Whether the card gives a limit of its own, or lets compute what a tight cylinder of this
    /// engine reads. At a ratio of 6 that is less than the 100 psi of the rule of thumb.
    fn card_knows_better(&self) -> bool {
        let computed = expected_for(self.case, self.condition, self.entry)
            .is_some_and(|expected| expected.basis != Basis::RatioOnly);
        card_limits(self.case) || computed
    }

    fn below_normal(&self, rule: &Rule, normal: Pressure, margin: Pressure) -> Finding<Saying> {
        let limit = self.here(normal - margin);
        let p = self.at_least(limit.here);
        let applied = Applied::BelowNormal {
            read: self.read(),
            margin,
            limit,
        };
        self.finding(Said::by(rule), self.against(limit.here), p, applied)
    }

    fn above_normal(&self, rule: &Rule, normal: Pressure, margin: Pressure) -> Finding<Saying> {
        let limit = self.here(normal + margin);
        let (judged, standard) = self.judged();
        let p = at_most(judged.pa(), standard.pa(), limit.here.pa());
        let applied = Applied::AboveNormal {
            read: self.read(),
            margin,
            limit,
        };
        self.finding(Said::by(rule), self.against(limit.here), p, applied)
    }

    fn share_of_expected(&self, rule: &Rule) -> Option<Finding<Saying>> {
        let OfExpected {
            share,
            standard,
            likely,
        } = self.of_expected()?;
        let p = at_least(share, standard, rule.limit);
        let applied = Applied::ShareOfExpected {
            read: self.read(),
            share: Share {
                share,
                standard,
                limit: rule.limit,
            },
            likely,
        };
        let amount = Amount {
            quantity: Quantity::Share,
            measured: share,
            standard,
            limit: rule.limit,
        };
        Some(self.finding(Said::by(rule), amount, p, applied))
    }

    /// The reading as a share of what the card predicts; none where it lets nothing.
    pub(super) fn of_expected(&self) -> Option<OfExpected> {
        let expected = expected_for(self.case, self.condition, self.entry)?;
        if expected.basis == Basis::RatioOnly || expected.likely.pa() <= 0.0 {
            return None;
        }
        let (judged, own) = self.judged();
        let share = judged / expected.likely;
        Some(OfExpected {
            share,
            standard: libm::hypot(
                own / expected.likely,
                share * (expected.standard / expected.likely),
            ),
            likely: expected.likely,
        })
    }

    /// A reading that this compression ratio cannot give contradicts the card.
    fn above_the_possible(&self) -> Option<Finding<Saying>> {
        let ratio = self.case.card?.engine.compression_ratio?;
        // Loss-free compression of air from bottom dead centre: no cranked engine exceeds it.
        let most = self.case.ambient.absolute * (libm::pow(ratio, 1.4) - 1.0);
        let p = at_most(
            self.entry.value.pa(),
            libm::hypot(self.entry.standard.pa(), self.case.ambient.standard.pa()),
            most.pa(),
        );
        if judge(p, self.case.rules.decision) != Judgement::Fail {
            return None;
        }
        let applied = Applied::MoreThanPossible {
            read: self.read(),
            ratio,
            most,
        };
        let said = Said {
            rule: "more-than-the-ratio-gives",
            source: "isentropic compression of air, ratio of specific heats 1.4",
            origin: Origin::Published,
            role: Role::Note,
        };
        let mut finding = self.finding(said, self.against(most), p, applied);
        finding.judgement = Judgement::Fail;
        Some(finding)
    }

    fn at_least(&self, limit: Pressure) -> f64 {
        let (judged, standard) = self.judged();
        at_least(judged.pa(), standard.pa(), limit.pa())
    }
}
