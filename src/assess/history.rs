//! Two visits to one engine: cold against warm, before against after a repair, this year against
//! last. Per cylinder the change with its uncertainty, raw and like with like.

use super::case::{Case, Entry, RunInput};
use super::correct::corrected_to;
use super::guard::at_least;
use super::rules::RuleSet;
use super::{leak, score};
use crate::engine::{Condition, JobCard};
use crate::units::{Pressure, Rate};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

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

/// Which way a reading went.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Trend {
    /// Up, beyond doubt of the measurement.
    Risen,
    /// Down, beyond doubt of the measurement.
    Fallen,
    /// The uncertainty reaches over no change at all.
    NotClear,
}

/// How a cylinder changed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Change {
    /// The cylinder.
    pub cylinder: String,
    /// Condition of the earlier reading.
    pub condition_before: Condition,
    /// Condition of the later reading; another one only where the visits share none.
    pub condition_after: Condition,
    /// Earlier reading.
    #[serde(rename = "before_pa")]
    pub before: Pressure,
    /// Later reading.
    #[serde(rename = "after_pa")]
    pub after: Pressure,
    /// Later less earlier, as read.
    #[serde(rename = "change_pa")]
    pub change: Pressure,
    /// Expanded uncertainty (k = 2) of [`Self::change`].
    #[serde(rename = "change_expanded_pa")]
    pub change_expanded: Pressure,
    /// Later less earlier, both corrected to one cadence, the standard atmosphere, no tester
    /// volume, no oil and working temperature; none where a card is too thin.
    #[serde(rename = "corrected_change_pa")]
    pub corrected_change: Option<Pressure>,
    /// Expanded uncertainty (k = 2) of [`Self::corrected_change`].
    #[serde(rename = "corrected_change_expanded_pa")]
    pub corrected_change_expanded: Option<Pressure>,
    /// Change of the effective leak in mm²; none where it is not known in both.
    pub leak_change_mm2: Option<f64>,
    /// Expanded uncertainty (k = 2) of [`Self::leak_change_mm2`].
    pub leak_change_expanded_mm2: Option<f64>,
    /// Which way it went, like with like where that could be computed.
    pub trend: Trend,
    /// In a sentence.
    pub text: String,
}

/// What changed between two visits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct History {
    /// Label of the earlier visit.
    pub before: String,
    /// Label of the later visit.
    pub after: String,
    /// In one sentence.
    pub verdict: String,
    /// Every cylinder that has a reading in both.
    pub changes: Vec<Change>,
    /// Score of the engine, earlier and later.
    pub scores: (Option<f64>, Option<f64>),
    /// What could not be compared, and what to mind.
    pub cannot_tell: Vec<String>,
}

/// Compares two visits. `same_sensor`: both were made with the same sensor, whose own error then
/// largely cancels.
pub fn compare(
    before: &Visit<'_>,
    after: &Visit<'_>,
    same_sensor: bool,
    rules: &RuleSet,
) -> History {
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
        verdict: pair.verdict(&changes),
        scores: (engine_score(&cases.0), engine_score(&cases.1)),
        cannot_tell: pair.cannot_tell(&changes),
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
    fn changes(&self) -> Vec<Change> {
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

    fn change(&self, name: &str, two: &Two<'_, '_>) -> Change {
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
        let mut change = Change {
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
            text: String::new(),
        };
        change.text = self.sentence(&change);
        change
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

    fn sentence(&self, change: &Change) -> String {
        let case = self.after;
        let (label_before, label_after) = self.labels;
        let way = match change.trend {
            Trend::Risen => "it has risen",
            Trend::Fallen => "it has fallen",
            Trend::NotClear => "no change beyond the uncertainty",
        };
        let like = match (change.corrected_change, change.corrected_change_expanded) {
            (Some(corrected), Some(expanded)) => format!(
                "; like with like {}",
                case.show_with(corrected, expanded * 0.5)
            ),
            _ => String::new(),
        };
        format!(
            "Cylinder {}: {} {} {label_before}, {} {} {label_after}, a change of {}{like}: {way}.",
            change.cylinder,
            case.show(change.before),
            change.condition_before.label(),
            case.show(change.after),
            change.condition_after.label(),
            case.show_with(change.change, change.change_expanded * 0.5),
        )
    }

    fn verdict(&self, changes: &[Change]) -> String {
        let dry = |trend: Trend| -> Vec<&str> {
            changes
                .iter()
                .filter(|c| c.condition_after != Condition::Wet && c.trend == trend)
                .map(|c| c.cylinder.as_str())
                .collect()
        };
        if let Some((before, after)) = self.two_engines() {
            return format!(
                "These are two engines by their cards, {before} and {after}: what follows says nothing \
                 of a change, unless a card has the wrong name."
            );
        }
        let (risen, fallen) = (dry(Trend::Risen), dry(Trend::Fallen));
        if changes.is_empty() {
            return "The two visits have no cylinder in common that was read in both.".to_owned();
        }
        let mut parts = Vec::new();
        if !risen.is_empty() {
            parts.push(format!("risen: {}", risen.join(", ")));
        }
        if !fallen.is_empty() {
            parts.push(format!("fallen: {}", fallen.join(", ")));
        }
        if parts.is_empty() {
            return "No cylinder changed beyond the uncertainty of the readings.".to_owned();
        }
        format!(
            "From {} to {}, {}.",
            self.labels.0,
            self.labels.1,
            parts.join("; ")
        )
    }

    /// What the cards call the engines, where they are two.
    fn two_engines(&self) -> Option<(&'a str, &'a str)> {
        let label = |case: &Case<'a>| case.card.map(|card| card.engine.label.as_str());
        let (before, after) = (label(self.before)?, label(self.after)?);
        (before != after).then_some((before, after))
    }

    fn cannot_tell(&self, changes: &[Change]) -> Vec<String> {
        let mut said = Vec::new();
        for (case, other) in [(self.before, self.after), (self.after, self.before)] {
            for cylinder in &case.cylinders {
                let compared = changes.iter().any(|c| c.cylinder == cylinder.name);
                let known = other.cylinders.iter().any(|c| c.name == cylinder.name);
                if !compared {
                    said.push(if known {
                        format!("Cylinder {} has no reading in both visits.", cylinder.name)
                    } else {
                        format!("Cylinder {} is only in one of the visits.", cylinder.name)
                    });
                }
            }
        }
        said.sort();
        said.dedup();
        if changes
            .iter()
            .any(|c| c.condition_before != c.condition_after)
        {
            said.push(
                "Some cylinders were read cold in one visit and warm in the other: only the \
                 change like with like says anything about the engine, and it rests on a model."
                    .to_owned(),
            );
        }
        if !self.same_sensor {
            said.push(
                "The visits were made with different sensors (or it is not known that they were \
                 not): each sensor's own error counts in full."
                    .to_owned(),
            );
        }
        if changes.iter().any(|c| c.corrected_change.is_none()) {
            said.push(
                "A card is too thin for corrections: differences in cadence, height and tester \
                 are part of the change."
                    .to_owned(),
            );
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
