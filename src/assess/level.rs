//! Each cylinder's level: against the card's limits, what an engine needs to run, and what this
//! engine should give.

use super::case::{Case, Entry};
use super::guard::{at_least, at_most, judge, normal_below};
use super::results::{Amount, ExpectedReading, Finding, Judgement, Origin, Quantity, Role};
use super::rules::{AltitudeRule, Rule, RuleKind};
use super::saying::{Applied, LimitHere, Note, Read, Saying, Share};
use crate::engine::expected::{self, Basis, Expected};
use crate::engine::{AmbientKnown, Condition, Limits};
use crate::units::Pressure;

/// A limit of the card counts under this name; it is the maker's word, not a rule of ours.
const CARD: &str = "the job card";

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

/// What the expectation is for one reading.
pub(super) fn expected_for(
    case: &Case<'_>,
    condition: Condition,
    entry: &Entry<'_>,
) -> Option<Expected> {
    *entry
        .expected
        .get_or_init(|| expected::expected(case.card?, &case.ambient, entry.crank, condition))
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

/// Whether the card gives a limit of its own for a level.
pub(super) fn card_limits(case: &Case<'_>) -> bool {
    let limits = case.card.and_then(|card| card.limits.as_ref());
    limits.is_some_and(|l| l.service_limit.is_some() || l.normal_low.is_some())
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

/// How a limit written for sea level stands here, as a factor.
pub(super) fn limit_factor(case: &Case<'_>) -> f64 {
    let delta = case.ambient.absolute / Pressure::ATMOSPHERE;
    // Density goes with the pressure to the power 1 − 1/5.25588 in the standard atmosphere.
    let sigma = libm::pow(delta, 1.0 - 1.0 / 5.255_88);
    match case.rules.altitude {
        AltitudeRule::PressureRatio => delta,
        AltitudeRule::DensityRatio => sigma,
        AltitudeRule::None => 1.0,
    }
}

/// A reading beside its expectation.
struct OfExpected {
    share: f64,
    /// Standard uncertainty of the share.
    standard: f64,
    likely: Pressure,
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
struct Judged<'l, 'a> {
    case: &'l Case<'a>,
    condition: Condition,
    at: usize,
    entry: &'l Entry<'a>,
}

impl Judged<'_, '_> {
    fn findings(&self) -> Vec<Finding<Saying>> {
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
    fn of_expected(&self) -> Option<OfExpected> {
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

/// What was taken for granted about the air.
pub(super) fn ambient_note(case: &Case<'_>) -> Option<Note> {
    let absolute = case.ambient.absolute;
    match case.ambient.known {
        AmbientKnown::Given => None,
        AmbientKnown::FromAltitude => Some(Note::AmbientFromHeight(absolute)),
        AmbientKnown::Assumed => Some(Note::SeaLevelAssumed(absolute)),
    }
}
