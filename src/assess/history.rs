//! Two visits to one engine: cold against warm, before against after a repair, this year against
//! last. Per cylinder the change with its uncertainty, raw and like with like.

use super::case::{Case, Entry, RunInput};
use super::changed::{Change, History, Trend};
use super::correct::corrected_to;
use super::guard::at_least;
use super::rules::RuleSet;
use super::saying::{Between, Measurement, Moved, Saying, Uncompared};
use super::{leak, score};
use crate::engine::{Condition, JobCard};
use crate::units::{Pressure, Rate};

/// One of the two visits.
#[derive(Clone, Debug)]
pub struct Visit<'a> {
    /// What it is called in sentences: a date, `before`, a file's name.
    pub label: &'a str,
    /// Its job card.
    pub card: Option<&'a JobCard>,
    /// Its runs.
    pub runs: &'a [RunInput<'a>],
}

/// Compares two visits. `same_sensor`: both were made with the same sensor, whose own error then
/// largely cancels.
pub fn compare(
    before: &Visit<'_>,
    after: &Visit<'_>,
    same_sensor: bool,
    rules: &RuleSet,
) -> History<Saying> {
    let cases = (
        Case::new(before.card, before.runs, &[], rules),
        Case::new(after.card, after.runs, &[], rules),
    );
    let pair = Pair {
        labels: (before.label, after.label),
        before: &cases.0,
        after: &cases.1,
        same_sensor,
    };
    let changes = pair.changes();
    History {
        before: before.label.to_owned(),
        after: after.label.to_owned(),
        verdict: Saying::Between(pair.verdict(&changes)),
        scores: (engine_score(&cases.0), engine_score(&cases.1)),
        cannot_tell: pair
            .cannot_tell(&changes)
            .into_iter()
            .map(Saying::Uncompared)
            .collect(),
        changes,
    }
}

fn engine_score(case: &Case<'_>) -> Option<f64> {
    let scores: Vec<_> = (0..case.cylinders.len())
        .map(|at| score::cylinder(case, at))
        .collect();
    score::engine(&scores).map(|score| score.value)
}

/// Two readings of one cylinder.
struct Two<'e, 'a> {
    before: (Condition, &'e Entry<'a>),
    after: (Condition, &'e Entry<'a>),
}

struct Pair<'p, 'a> {
    labels: (&'p str, &'p str),
    before: &'p Case<'a>,
    after: &'p Case<'a>,
    same_sensor: bool,
}

impl<'p, 'a> Pair<'p, 'a> {
    fn changes(&self) -> Vec<Change<Saying>> {
        let mut changes = Vec::new();
        for earlier in &self.before.cylinders {
            let Some(later) = self.after.cylinders.iter().find(|c| c.name == earlier.name) else {
                continue;
            };
            let shared: Vec<Two<'_, '_>> = Condition::ALL
                .into_iter()
                .filter_map(|condition| {
                    Some(Two {
                        before: (condition, earlier.entries.get(&condition)?),
                        after: (condition, later.entries.get(&condition)?),
                    })
                })
                .collect();
            let crossed = || {
                let dry = [Condition::WarmDry, Condition::ColdDry];
                let of = |cylinder: &'p super::case::Cylinder<'a>| {
                    dry.into_iter()
                        .find_map(|c| cylinder.entries.get(&c).map(|entry| (c, entry)))
                };
                Some(Two {
                    before: of(earlier)?,
                    after: of(later)?,
                })
            };
            let dry_shared = shared.iter().any(|two| two.before.0 != Condition::Wet);
            let extra = if dry_shared { None } else { crossed() };
            for two in shared.into_iter().chain(extra) {
                changes.push(self.change(&earlier.name, &two));
            }
        }
        changes
    }

    fn change(&self, name: &str, two: &Two<'_, '_>) -> Change<Saying> {
        let (before, after) = (two.before.1, two.after.1);
        let standard = |entry: &Entry<'_>| {
            if self.same_sensor {
                entry.relative
            } else {
                entry.standard
            }
        };
        let change = after.value - before.value;
        let raw = libm::hypot(standard(before).pa(), standard(after).pa());
        let like = self.like_with_like(two);
        // On both days the model is off by the same share, and so is what lies between.
        let area = |case, entry| leak::area(case, entry, 0.0);
        let leaks = area(self.before, before).zip(area(self.after, after));
        let (counted, counted_standard) = like.unwrap_or((change.pa(), raw));
        let trend = trend(counted, counted_standard, self.after.rules.decision);
        let moved = Moved {
            cylinder: name.to_owned(),
            labels: [self.labels.0, self.labels.1].map(str::to_owned),
            before: (two.before.0, before.value),
            after: (two.after.0, after.value),
            change: Measurement {
                value: change,
                standard: Pressure::from_pa(raw),
            },
            like_with_like: like.map(|(change, doubt)| Measurement {
                value: Pressure::from_pa(change),
                standard: Pressure::from_pa(doubt),
            }),
            trend,
        };
        Change {
            cylinder: name.to_owned(),
            condition_before: two.before.0,
            condition_after: two.after.0,
            before: before.value,
            after: after.value,
            change,
            change_expanded: Pressure::from_pa(2.0 * raw),
            corrected_change: like.map(|(change, _)| Pressure::from_pa(change)),
            corrected_change_expanded: like.map(|(_, doubt)| Pressure::from_pa(2.0 * doubt)),
            leak_change_mm2: leaks.map(|(a, b)| b.mm2 - a.mm2),
            leak_change_expanded_mm2: leaks.map(|(a, b)| {
                let of_model = 2.0 * leak::MODEL_DOUBT * (b.mm2 - a.mm2);
                libm::hypot(libm::hypot(a.expanded_mm2, b.expanded_mm2), of_model)
            }),
            trend,
            text: Saying::Moved(moved),
        }
    }

    /// The change of corrected readings with its standard uncertainty, in pascal. Both are
    /// brought to the mean of the two cadences.
    fn like_with_like(&self, two: &Two<'_, '_>) -> Option<(f64, f64)> {
        let (before, after) = (two.before.1, two.after.1);
        let common = before
            .crank
            .zip(after.crank)
            .map(|(a, b)| Rate::from_hz(f64::midpoint(a.hz(), b.hz())));
        let level = |case: &Case<'_>, (condition, entry): (Condition, &Entry<'_>)| {
            let corrected = corrected_to(case, condition, entry, common)?;
            let own = if self.same_sensor {
                entry.relative
            } else {
                entry.standard
            };
            let factor = corrected.value / entry.value;
            // What the corrections add to the doubt, and the doubt of the reading itself.
            let relative = (corrected.expanded_relative * 0.5).pa();
            let alone = (entry.relative * factor).pa();
            let of_corrections = (relative * relative - alone * alone).max(0.0);
            let air = case.ambient.standard / case.ambient.absolute * corrected.value.pa();
            let own = (own * factor).pa();
            Some((corrected.value.pa(), own * own + of_corrections + air * air))
        };
        let (earlier, earlier_squares) = level(self.before, two.before)?;
        let (later, later_squares) = level(self.after, two.after)?;
        Some((later - earlier, libm::sqrt(earlier_squares + later_squares)))
    }

    fn verdict(&self, changes: &[Change<Saying>]) -> Between {
        let dry = |trend: Trend| -> Vec<String> {
            changes
                .iter()
                .filter(|c| c.condition_after != Condition::Wet && c.trend == trend)
                .map(|c| c.cylinder.clone())
                .collect()
        };
        if let Some((before, after)) = self.two_engines() {
            return Between::TwoEngines(before.to_owned(), after.to_owned());
        }
        let (risen, fallen) = (dry(Trend::Risen), dry(Trend::Fallen));
        if changes.is_empty() {
            return Between::NothingInCommon;
        }
        if risen.is_empty() && fallen.is_empty() {
            return Between::Unchanged;
        }
        Between::Changed {
            labels: [self.labels.0, self.labels.1].map(str::to_owned),
            risen,
            fallen,
        }
    }

    /// What the cards call the engines, where they are two.
    fn two_engines(&self) -> Option<(&'a str, &'a str)> {
        let label = |case: &Case<'a>| case.card.map(|card| card.engine.label.as_str());
        let (before, after) = (label(self.before)?, label(self.after)?);
        (before != after).then_some((before, after))
    }

    fn cannot_tell(&self, changes: &[Change<Saying>]) -> Vec<Uncompared> {
        let mut left_out = Vec::new();
        for (case, other) in [(self.before, self.after), (self.after, self.before)] {
            for cylinder in &case.cylinders {
                let compared = changes.iter().any(|c| c.cylinder == cylinder.name);
                let known = other.cylinders.iter().any(|c| c.name == cylinder.name);
                if !compared {
                    left_out.push((cylinder.name.clone(), known));
                }
            }
        }
        left_out.sort();
        left_out.dedup();
        let mut said: Vec<Uncompared> = left_out
            .into_iter()
            .map(|(name, known)| {
                if known {
                    Uncompared::NotReadInBoth(name)
                } else {
                    Uncompared::OnlyInOne(name)
                }
            })
            .collect();
        if changes
            .iter()
            .any(|c| c.condition_before != c.condition_after)
        {
            said.push(Uncompared::ColdAndWarm);
        }
        if !self.same_sensor {
            said.push(Uncompared::OtherSensor);
        }
        if changes.iter().any(|c| c.corrected_change.is_none()) {
            said.push(Uncompared::ThinCard);
        }
        said
    }
}

/// Which way a change went.
fn trend(change: f64, standard: f64, decision: f64) -> Trend {
    let up = at_least(change, standard, 0.0);
    // With no uncertainty at all, no change is no change.
    if change == 0.0 {
        Trend::NotClear
    } else if up >= decision {
        Trend::Risen
    } else if up <= 1.0 - decision {
        Trend::Fallen
    } else {
        Trend::NotClear
    }
}
