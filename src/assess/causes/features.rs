//! What the readings of a cylinder show, as numbers that a cause can be likely or unlikely to
//! give. Each carries the variance that the measurement alone puts on it; what was not measured
//! is absent and weighs nothing.

use crate::assess::case::{Case, Entry};
use crate::assess::change::{dry_beside_wet, wet_gain};
use crate::assess::level::expected_for;
use crate::engine::Condition;
use crate::engine::expected::{self, Basis, Expected};
use crate::signal::Rig;
use crate::units::Rate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A kind of evidence. Levels and changes are natural logarithms of pressure ratios.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Feature {
    /// Own reading over the best of the other cylinders; 0 where it is above them and they are no
    /// measure of what is too high.
    Relative,
    /// The best of all cylinders over what the card lets expect, where there are several.
    Common,
    /// Own reading over what the card lets expect, where there is no other cylinder to go by.
    Alone,
    /// Wet over dry, less what the oil's volume explains.
    Wet,
    /// First stroke's share of the plateau, sensor behind a check valve.
    FirstHeld,
    /// First stroke's share of the plateau, sensor without a check valve.
    FirstFollowed,
    /// First stroke's share less the median of the other cylinders'.
    FirstRelative,
    /// Lowest neighbour over the best of all cylinders.
    Neighbour,
    /// Own reading over that neighbour's.
    NeighbourGap,
    /// Warm over cold.
    Warmth,
    /// Fall of the held reading, logarithm of its share a second (with a floor of 0.0001).
    Droop,
    /// Crank speed over the usual speed of the way it is turned.
    Cadence,
    /// Crank speed over the median of the other cylinders'.
    CadenceRelative,
}

impl Feature {
    /// How many there are.
    pub const COUNT: usize = 13;
    /// Every feature, in the order in which a vector holds them.
    pub const ALL: [Self; Self::COUNT] = [
        Self::Relative,
        Self::Common,
        Self::Alone,
        Self::Wet,
        Self::FirstHeld,
        Self::FirstFollowed,
        Self::FirstRelative,
        Self::Neighbour,
        Self::NeighbourGap,
        Self::Warmth,
        Self::Droop,
        Self::Cadence,
        Self::CadenceRelative,
    ];
}

/// An observed feature.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Observed {
    /// Which.
    pub feature: Feature,
    /// Its value.
    pub value: f64,
    /// Variance from the measurement (and from the expectation, where it is held against one).
    pub variance: f64,
}

/// Floor of the droop feature, share a second.
const DROOP_FLOOR: f64 = 1e-4;

/// Everything observed about a cylinder, in the order of [`Feature::ALL`].
pub(in crate::assess) fn observe(case: &Case<'_>, at: usize) -> Vec<Observed> {
    let Some(condition) = case.dry else {
        return Vec::new();
    };
    let Some(own) = case.dry_entry(at).filter(|entry| entry.value.pa() > 0.0) else {
        return Vec::new();
    };
    let view = View {
        case,
        at,
        condition,
        own,
    };
    Feature::ALL
        .into_iter()
        .filter_map(|feature| {
            let (value, variance) = view.one(feature)?;
            let usable = value.is_finite() && variance.is_finite() && variance >= 0.0;
            usable.then_some(Observed {
                feature,
                value,
                variance,
            })
        })
        .collect()
}

/// Lowest neighbour on the card with a dry reading.
pub(super) fn lowest_neighbour(case: &Case<'_>, at: usize) -> Option<usize> {
    let level = |at: usize| case.dry_entry(at).map_or(0.0, |entry| entry.value.pa());
    let neighbours = case.cylinders.get(at)?.neighbours.iter().copied();
    neighbours
        .filter(|other| level(*other) > 0.0)
        .min_by(|a, b| level(*a).total_cmp(&level(*b)))
}

/// A logarithm of a level with its relative variance.
#[derive(Clone, Copy)]
struct Log {
    value: f64,
    variance: f64,
}

struct View<'v, 'a> {
    case: &'v Case<'a>,
    at: usize,
    condition: Condition,
    own: &'v Entry<'a>,
}

impl View<'_, '_> {
    fn one(&self, feature: Feature) -> Option<(f64, f64)> {
        match feature {
            Feature::Relative => self.relative(),
            Feature::Common => {
                self.best(Some(self.at))?;
                Some(minus(log_absolute(self.best(None)?), self.expected()?))
            }
            Feature::Alone => match self.best(Some(self.at)) {
                Some(_) => None,
                None => Some(minus(log_absolute(self.own), self.expected()?)),
            },
            Feature::Wet => self.wet(),
            Feature::FirstHeld => self.first(Rig::Holding),
            Feature::FirstFollowed => self.first(Rig::Following),
            Feature::FirstRelative => self.first_relative(),
            Feature::Neighbour => {
                let neighbour = self.case.dry_entry(lowest_neighbour(self.case, self.at)?)?;
                Some(minus(
                    log_relative(neighbour),
                    log_relative(self.best(None)?),
                ))
            }
            Feature::NeighbourGap => {
                let neighbour = self.case.dry_entry(lowest_neighbour(self.case, self.at)?)?;
                Some(minus(log_relative(self.own), log_relative(neighbour)))
            }
            Feature::Warmth => self.warmth(),
            Feature::Droop => self.droop(),
            Feature::Cadence => {
                let card = self.case.card?;
                let usual = expected::usual_crank(card.engine.start);
                Some((libm::log(self.own.crank? / usual), 0.0))
            }
            Feature::CadenceRelative => {
                let others = self.median_of_others(|entry| entry.crank.map(Rate::hz))?;
                Some((libm::log(self.own.crank?.hz() / others), 0.0))
            }
        }
    }

    /// A leaky cylinder is no measure of what is too high: what stands above the others counts as
    /// above them only where the best of them reads what the card lets expect.
    fn relative(&self) -> Option<(f64, f64)> {
        let best = self.best(Some(self.at))?;
        let (gap, variance) = minus(log_relative(self.own), log_relative(best));
        let measure = gap <= 0.0 || self.as_expected(best);
        Some((if measure { gap } else { 0.0 }, variance))
    }

    /// Whether a reading is within (or above) the band that the card lets expect (k = 2).
    fn as_expected(&self, entry: &Entry<'_>) -> bool {
        expected_for(self.case, self.condition, entry).is_some_and(|e| {
            e.basis != Basis::RatioOnly && entry.value >= e.likely - e.standard * 2.0
        })
    }

    /// The highest cylinder, without one.
    fn best(&self, without: Option<usize>) -> Option<&Entry<'_>> {
        self.case
            .of(self.condition)
            .into_iter()
            .filter(|(at, entry)| Some(*at) != without && entry.value.pa() > 0.0)
            .map(|(_, entry)| entry)
            .max_by(|a, b| a.value.pa().total_cmp(&b.value.pa()))
    }

    fn expected(&self) -> Option<Log> {
        let expected: Expected = expected_for(self.case, self.condition, self.own)?;
        let relative = expected.standard / expected.likely;
        (expected.likely.pa() > 0.0).then(|| Log {
            value: libm::log(expected.likely.pa()),
            variance: relative * relative,
        })
    }

    fn wet(&self) -> Option<(f64, f64)> {
        let gain = wet_gain(self.case, self.at)?;
        let entries = &self.case.cylinders.get(self.at)?.entries;
        let (_, dry) = dry_beside_wet(entries)?;
        let most = gain.by_volume_most.unwrap_or(dry.value * 0.1);
        let rise = libm::log((dry.value + gain.rise) / dry.value);
        let half = libm::log1p((most * 0.5) / dry.value);
        let standard = gain.rise_standard / dry.value;
        Some((rise - half, standard * standard))
    }

    fn first(&self, rig: Rig) -> Option<(f64, f64)> {
        let fit = self.own.result.build_up.as_ref()?;
        (self.own.result.rig == Some(rig)).then_some((
            fit.first_share,
            fit.first_share_uncertainty * fit.first_share_uncertainty,
        ))
    }

    fn first_relative(&self) -> Option<(f64, f64)> {
        let fit = self.own.result.build_up.as_ref()?;
        let others = self
            .median_of_others(|entry| entry.result.build_up.as_ref().map(|fit| fit.first_share))?;
        let variance = fit.first_share_uncertainty * fit.first_share_uncertainty;
        Some((fit.first_share - others, variance * 2.0))
    }

    fn warmth(&self) -> Option<(f64, f64)> {
        let entries = &self.case.cylinders.get(self.at)?.entries;
        let positive = |condition| {
            entries
                .get(&condition)
                .filter(|entry| entry.value.pa() > 0.0)
        };
        let warm = positive(Condition::WarmDry)?;
        let cold = positive(Condition::ColdDry)?;
        Some(minus(log_relative(warm), log_relative(cold)))
    }

    fn droop(&self) -> Option<(f64, f64)> {
        let droop = self.own.result.droop.as_ref()?;
        let share = (droop.per_second / self.own.value).max(0.0) + DROOP_FLOOR;
        let standard = (droop.per_second_standard / self.own.value) / share;
        Some((libm::log(share), standard * standard))
    }

    fn median_of_others(&self, pick: impl Fn(&Entry<'_>) -> Option<f64>) -> Option<f64> {
        let mut values: Vec<f64> = self
            .case
            .of(self.condition)
            .into_iter()
            .filter(|(at, _)| *at != self.at)
            .filter_map(|(_, entry)| pick(entry))
            .filter(|value| value.is_finite() && *value > 0.0)
            .collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    }
}

fn minus(a: Log, b: Log) -> (f64, f64) {
    (a.value - b.value, a.variance + b.variance)
}

fn log_relative(entry: &Entry<'_>) -> Log {
    log(entry, entry.relative / entry.value)
}

fn log_absolute(entry: &Entry<'_>) -> Log {
    log(entry, entry.standard / entry.value)
}

fn log(entry: &Entry<'_>, relative: f64) -> Log {
    Log {
        value: libm::log(entry.value.pa()),
        variance: relative * relative,
    }
}
