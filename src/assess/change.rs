//! A cylinder against itself: cold to warm, dry to wet.

use super::as_read::{OIL_LEFT, wet_oil};
use super::case::{Case, Entry};
use super::guard::{at_most, judge};
use super::results::{Amount, Finding, Judgement, Origin, Quantity, Role};
use super::rules::{Rule, RuleKind};
use super::saying::{Applied, Measurement, Saying};
use crate::engine::Condition;
use crate::engine::stroke::peaks;
use crate::units::Pressure;

/// The rise of a cylinder with oil, and how much of it the oil's own volume explains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct WetGain {
    /// Wet less dry.
    pub rise: Pressure,
    /// Standard uncertainty of [`Self::rise`].
    pub rise_standard: Pressure,
    /// What the oil's volume alone gives a cylinder, if all of it stays: the most.
    pub by_volume_most: Option<Pressure>,
}

impl WetGain {
    /// The rise beyond what the oil's volume is likely to explain.
    pub(super) fn beyond(&self) -> (Pressure, Pressure) {
        let most = self.by_volume_most.unwrap_or(Pressure::ZERO);
        // Anything from none to all of the oil may be left: rectangular, GUM 4.3.7.
        let doubt = most / libm::sqrt(12.0);
        (
            self.rise - most * OIL_LEFT,
            Pressure::from_pa(libm::hypot(self.rise_standard.pa(), doubt.pa())),
        )
    }
}

/// Dry to wet for a cylinder. The dry run nearest to the wet one in warmth counts: warm if there.
pub(super) fn wet_gain(case: &Case<'_>, at: usize) -> Option<WetGain> {
    let entries = &case.cylinders.get(at)?.entries;
    let wet = entries.get(&Condition::Wet)?;
    let (_, dry) = dry_beside_wet(entries)?;
    let by_volume_most = oil_alone(case, dry);
    Some(WetGain {
        rise: wet.value - dry.value,
        rise_standard: Pressure::from_pa(libm::hypot(wet.relative.pa(), dry.relative.pa())),
        by_volume_most,
    })
}

/// The dry run that the wet one is held against.
pub(super) fn dry_beside_wet<'e, 'a>(
    entries: &'e std::collections::BTreeMap<Condition, Entry<'a>>,
) -> Option<(Condition, &'e Entry<'a>)> {
    [Condition::WarmDry, Condition::ColdDry]
        .into_iter()
        .find_map(|condition| entries.get(&condition).map(|entry| (condition, entry)))
}

/// What the oil's volume alone would add to a dry reading if all of it stayed in the chamber.
fn oil_alone(case: &Case<'_>, dry: &Entry<'_>) -> Option<Pressure> {
    let oil = wet_oil(case.card?)?;
    let (own, leak) = (dry.own?, dry.leak_mm2?);
    let oiled = super::as_read::with_oil(&own, oil);
    let gain = match peaks(&[(oiled, leak), (own, leak)])[..] {
        [oiled, bare] => oiled / bare - 1.0,
        _ => return None,
    };
    (gain.is_finite() && gain >= 0.0).then(|| dry.value * gain)
}

/// Findings of every cylinder against itself.
pub(super) fn findings(case: &Case<'_>) -> Vec<Finding<Saying>> {
    let mut found = Vec::new();
    for at in 0..case.cylinders.len() {
        if let Some(rule) = case.rules.first(RuleKind::WetGain, case.ignition) {
            found.extend(wet_finding(case, at, rule));
        }
        found.extend(warm_finding(case, at));
        found.extend(repeat_finding(case, at));
    }
    found
}

fn wet_finding(case: &Case<'_>, at: usize, rule: &Rule) -> Option<Finding<Saying>> {
    let gain = wet_gain(case, at)?;
    let limit = rule.pressure()?;
    let (beyond, standard) = gain.beyond();
    // The limit itself counts as a rise: what keeps it is less than the limit.
    let p = at_most(beyond.pa(), standard.pa(), limit.pa() * (1.0 - 1e-6));
    let judgement = judge(p, case.rules.decision);
    let applied = Applied::Oil {
        cylinder: case.name(at).to_owned(),
        rise: Measurement {
            value: gain.rise,
            standard: gain.rise_standard,
        },
        by_volume_most: gain.by_volume_most,
        limit,
    };
    Some(Finding {
        rule: rule.key.clone(),
        cylinders: vec![case.name(at).to_owned()],
        condition: Some(Condition::Wet),
        amount: Some(Amount {
            quantity: Quantity::Pressure,
            measured: beyond.pa(),
            standard: standard.pa(),
            limit: limit.pa(),
        }),
        text: Saying::Rule(applied, judgement),
        judgement,
        role: Role::Note,
        probability_within: Some(p),
        origin: rule.origin(),
        source: rule.source.clone(),
    })
}

fn warm_finding(case: &Case<'_>, at: usize) -> Option<Finding<Saying>> {
    let entries = &case.cylinders.get(at)?.entries;
    let cold = entries.get(&Condition::ColdDry)?;
    let warm = entries.get(&Condition::WarmDry)?;
    let rise = warm.value - cold.value;
    let standard = Pressure::from_pa(libm::hypot(warm.relative.pa(), cold.relative.pa()));
    let p = super::guard::at_least(rise.pa(), standard.pa(), 0.0);
    let falls = judge(p, case.rules.decision) == Judgement::Fail;
    let judgement = if falls {
        Judgement::TooCloseToCall
    } else {
        Judgement::Pass
    };
    let applied = Applied::Warmth {
        cylinder: case.name(at).to_owned(),
        rise: Measurement {
            value: rise,
            standard,
        },
        falls,
        valves: !case.kind.is_two_stroke(),
    };
    Some(Finding {
        rule: "cold-to-warm".to_owned(),
        cylinders: vec![case.name(at).to_owned()],
        condition: None,
        amount: Some(Amount {
            quantity: Quantity::Pressure,
            measured: rise.pa(),
            standard: standard.pa(),
            limit: 0.0,
        }),
        text: Saying::Rule(applied, judgement),
        judgement,
        role: Role::Note,
        probability_within: Some(p),
        origin: Origin::Published,
        source: "cold cylinders leak and lose heat more (start-assist chapter, \
                 doi 10.1007/978-3-658-03981-3_17)"
            .to_owned(),
    })
}

/// Runs of one cylinder in one condition that do not agree with each other.
fn repeat_finding(case: &Case<'_>, at: usize) -> Option<Finding<Saying>> {
    let cylinder = case.cylinders.get(at)?;
    for (condition, counted) in &cylinder.entries {
        for (other_condition, other) in &cylinder.all {
            let same = other_condition == condition && other.run != counted.run;
            let gap = (other.value - counted.value).abs();
            let standard = libm::hypot(other.relative.pa(), counted.relative.pa());
            if same && gap.pa() > 3.0 * standard && gap.pa() > 0.03 * counted.value.pa() {
                let applied = Applied::Repeat {
                    cylinder: cylinder.name.clone(),
                    condition: *condition,
                    other: other.measured(),
                    counted: counted.measured(),
                };
                return Some(Finding {
                    rule: "repeat".to_owned(),
                    cylinders: vec![cylinder.name.clone()],
                    condition: Some(*condition),
                    amount: None,
                    text: Saying::Rule(applied, Judgement::TooCloseToCall),
                    judgement: Judgement::TooCloseToCall,
                    role: Role::Note,
                    probability_within: None,
                    origin: Origin::Own,
                    source: "own rule: repeats should agree within three standard uncertainties"
                        .to_owned(),
                });
            }
        }
    }
    None
}
