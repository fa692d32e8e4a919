//! What the readings of a cylinder show, as numbers that a cause can be likely or unlikely to
//! give. What was not measured, or what the card does not let compute, is absent.

use super::trees::bit;
use crate::assess::case::{Case, Entry};
use crate::assess::leak;
use crate::assess::level::expected_for;
use crate::assess::oil::{Oiled, oiled};
use crate::engine::expected::{self, Basis};
use crate::engine::{Condition, Start};
use crate::signal::Rig;
use crate::units::Rate;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A number observed. Levels and changes are natural logarithms of pressure ratios, levels
/// corrected for cadence where the card lets it.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "kebab-case")]
pub enum Feature {
    /// Own reading over what the card lets expect.
    Level,
    /// The best of all cylinders over what the card lets expect.
    Best,
    /// Standard uncertainty of [`Self::Level`].
    LevelDoubt,
    /// Own leak over that of a healthy cylinder.
    Area,
    /// Own reading over the best of the other cylinders.
    Relative,
    /// Lowest of the other cylinders over the best of all.
    LowestOther,
    /// Second best of the other cylinders over the best of all.
    SecondOther,
    /// Lowest neighbour over the best of all.
    Neighbour,
    /// Own reading over that neighbour's.
    NeighbourGap,
    /// Best of the rest over the better of this pair of neighbours.
    PairBelow,
    /// Lowest over best of the cylinders that are not of this pair.
    RestEven,
    /// Wet over dry, less what the oil's volume explains.
    Wet,
    /// That, as a share of what it would be if rings leaked.
    WetSeal,
    /// That, as a logarithm of likelihoods: rings to anything else.
    WetForRings,
    /// Wet leak area over the dry one.
    WetArea,
    /// As [`Self::Wet`] for the best of the first strokes (sensor without a check valve).
    WetEarly,
    /// As [`Self::Wet`] for the level after as many strokes as both runs have.
    WetSameStrokes,
    /// As [`Self::Wet`] for the first strokes.
    WetFirstStrokes,
    /// Standard uncertainty of [`Self::Wet`].
    WetDoubt,
    /// First stroke's share of the plateau in the wet run.
    WetFirst,
    /// [`Self::Wet`] over that of cylinders that read well.
    WetControl,
    /// Most of [`Self::Wet`] of the other cylinders.
    WetOthersMost,
    /// Least of [`Self::Wet`] of the other cylinders.
    WetOthersLeast,
    /// First stroke's share of the plateau.
    First,
    /// First stroke's share less the median of the other cylinders'.
    FirstRelative,
    /// First stroke as it was found over the reading.
    FirstStroke,
    /// What is left to climb after a stroke, as a share of what was left before it.
    BuildUp,
    /// Fall of the held reading, logarithm of its share a second (with a floor of 0.0001).
    Droop,
    /// Crank speed over the usual speed of the way it is turned.
    Cadence,
    /// Crank speed over the median of the other cylinders'.
    CadenceRelative,
    /// Warm over cold.
    Warmth,
    /// How many cylinders there are.
    Cylinders,
    /// 1 behind a check valve, 0 without one.
    Holding,
    /// 1 where it is turned in bursts (kicks, pulls), 0 where steadily.
    Bursts,
}

impl Feature {
    /// How many there are.
    pub const COUNT: usize = 34;
    /// Every feature, in the order in which a vector holds them.
    pub const ALL: [Self; Self::COUNT] = [
        Self::Level,
        Self::Best,
        Self::LevelDoubt,
        Self::Area,
        Self::Relative,
        Self::LowestOther,
        Self::SecondOther,
        Self::Neighbour,
        Self::NeighbourGap,
        Self::PairBelow,
        Self::RestEven,
        Self::Wet,
        Self::WetSeal,
        Self::WetForRings,
        Self::WetArea,
        Self::WetEarly,
        Self::WetSameStrokes,
        Self::WetFirstStrokes,
        Self::WetDoubt,
        Self::WetFirst,
        Self::WetControl,
        Self::WetOthersMost,
        Self::WetOthersLeast,
        Self::First,
        Self::FirstRelative,
        Self::FirstStroke,
        Self::BuildUp,
        Self::Droop,
        Self::Cadence,
        Self::CadenceRelative,
        Self::Warmth,
        Self::Cylinders,
        Self::Holding,
        Self::Bursts,
    ];
}

/// Features that say one thing together: what a sentence of evidence is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Group {
    /// The level against what the card lets expect.
    Expected,
    /// The level beside the other cylinders.
    Others,
    /// The level beside the neighbours.
    Neighbours,
    /// The change with oil.
    Oil,
    /// The change of the other cylinders with oil.
    OilOfOthers,
    /// The build-up.
    BuildUp,
    /// The first stroke beside that of the other cylinders.
    FirstOfOthers,
    /// The fall of the held reading.
    Droop,
    /// The crank speed.
    Cadence,
    /// The crank speed beside that of the other cylinders.
    CadenceOfOthers,
    /// Cold to warm.
    Warmth,
}

impl Group {
    /// Every group.
    pub(super) const ALL: [Self; 11] = [
        Self::Expected,
        Self::Others,
        Self::Neighbours,
        Self::Oil,
        Self::OilOfOthers,
        Self::BuildUp,
        Self::FirstOfOthers,
        Self::Droop,
        Self::Cadence,
        Self::CadenceOfOthers,
        Self::Warmth,
    ];

    /// The features of the group.
    const fn features(self) -> &'static [Feature] {
        match self {
            Self::Expected => &[
                Feature::Level,
                Feature::Best,
                Feature::LevelDoubt,
                Feature::Area,
            ],
            Self::Others => &[
                Feature::Relative,
                Feature::LowestOther,
                Feature::SecondOther,
            ],
            Self::Neighbours => &[
                Feature::Neighbour,
                Feature::NeighbourGap,
                Feature::PairBelow,
                Feature::RestEven,
            ],
            Self::Oil => &[
                Feature::Wet,
                Feature::WetSeal,
                Feature::WetForRings,
                Feature::WetArea,
                Feature::WetEarly,
                Feature::WetSameStrokes,
                Feature::WetFirstStrokes,
                Feature::WetDoubt,
                Feature::WetFirst,
                Feature::WetControl,
            ],
            Self::OilOfOthers => &[Feature::WetOthersMost, Feature::WetOthersLeast],
            Self::BuildUp => &[Feature::First, Feature::FirstStroke, Feature::BuildUp],
            Self::FirstOfOthers => &[Feature::FirstRelative],
            Self::Droop => &[Feature::Droop],
            Self::Cadence => &[Feature::Cadence],
            Self::CadenceOfOthers => &[Feature::CadenceRelative],
            Self::Warmth => &[Feature::Warmth],
        }
    }

    /// The bits of its features.
    pub(super) fn bits(self) -> u64 {
        let bits = self.features().iter().map(|feature| bit(*feature as usize));
        bits.fold(0, |all, bit| all | bit)
    }

    /// What was observed without this group; none where nothing of it was observed.
    pub(super) fn left_out(self, observed: &Observed) -> Option<Observed> {
        let mut rest = *observed;
        let mut any = false;
        for feature in self.features() {
            if let Some(slot) = rest.get_mut(*feature as usize) {
                any |= slot.take().is_some();
            }
        }
        any.then_some(rest)
    }
}

/// An observed feature, if it was.
pub(super) fn seen(observed: &Observed, feature: Feature) -> Option<f64> {
    observed.get(feature as usize).copied().flatten()
}

/// What was observed of a cylinder, by feature in the order of [`Feature::ALL`]; none where it
/// was not.
pub type Observed = [Option<f64>; Feature::COUNT];

/// Floor of the droop feature, share a second.
const DROOP_FLOOR: f64 = 1e-4;
/// Shares of what oil does to rings are bounded: a tight cylinder has next to nothing to seal.
const MOST_SEAL: f64 = 4.0;
/// Least effect on rings that a share of it is formed with.
const LEAST_IF_RINGS: f64 = 0.01;
/// From this level beside the best on a wetted cylinder serves as a control.
const CONTROL_FROM: f64 = -0.08;
/// Least multiple of a healthy leak that a logarithm is taken of.
const LEAST_AREA: f64 = 0.1;

/// What was observed of every cylinder; none without a dry reading.
pub(in crate::assess) fn observe(case: &Case<'_>) -> Vec<Option<Observed>> {
    let view = case.dry.map(|condition| View::new(case, condition));
    (0..case.cylinders.len())
        .map(|at| view.as_ref().and_then(|view| view.observed(at)))
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

/// A cylinder's level.
#[derive(Clone, Copy)]
struct Level {
    at: usize,
    /// Over what the card lets expect, or over a pascal where it does not.
    log: f64,
    /// Standard uncertainty against the expectation; none where there is none.
    doubt: Option<f64>,
}

struct View<'v, 'a> {
    case: &'v Case<'a>,
    levels: Vec<Level>,
    oiled: Vec<Option<Oiled>>,
}

impl<'v, 'a> View<'v, 'a> {
    fn new(case: &'v Case<'a>, condition: Condition) -> Self {
        let readings = case.of(condition);
        let usable: Vec<(usize, &Entry<'_>)> = readings
            .into_iter()
            .filter(|(_, entry)| entry.value.pa() > 0.0)
            .collect();
        let expected: Vec<Option<(f64, f64)>> = usable
            .iter()
            .map(|(_, entry)| should_read(case, condition, entry))
            .collect();
        // Either every level is held against an expectation or none is.
        let all = expected.iter().all(Option::is_some);
        let levels = usable
            .into_iter()
            .zip(expected)
            .map(|((at, entry), should)| {
                let read = libm::log(entry.value.pa());
                match should.filter(|_| all) {
                    Some((log, doubt)) => Level {
                        at,
                        log: read - log,
                        doubt: Some(libm::hypot(doubt, entry.standard / entry.value)),
                    },
                    None => Level {
                        at,
                        log: read,
                        doubt: None,
                    },
                }
            })
            .collect();
        Self {
            case,
            levels,
            oiled: (0..case.cylinders.len())
                .map(|at| oiled(case, at))
                .collect(),
        }
    }

    fn observed(&self, at: usize) -> Option<Observed> {
        let own = self.levels.iter().find(|level| level.at == at)?;
        let entry = self.case.dry_entry(at)?;
        let one = One {
            view: self,
            own,
            entry,
        };
        let mut observed = [None; Feature::COUNT];
        for (slot, feature) in observed.iter_mut().zip(Feature::ALL) {
            *slot = one.feature(feature).filter(|value| value.is_finite());
        }
        Some(observed)
    }

    fn best(&self) -> f64 {
        highest(self.levels.iter().map(|level| level.log)).unwrap_or(0.0)
    }

    fn beyond(&self, at: usize) -> Option<f64> {
        Some(self.oiled.get(at)?.as_ref()?.beyond)
    }
}

/// Logarithm of what a healthy cylinder should read, and its relative standard uncertainty.
fn should_read(case: &Case<'_>, condition: Condition, entry: &Entry<'_>) -> Option<(f64, f64)> {
    let expected = expected_for(case, condition, entry)?;
    let usable = expected.basis != Basis::RatioOnly && expected.likely.pa() > 0.0;
    usable.then(|| {
        (
            libm::log(expected.likely.pa()),
            expected.standard / expected.likely,
        )
    })
}

/// One cylinder among the others.
struct One<'o, 'v, 'a> {
    view: &'o View<'v, 'a>,
    own: &'o Level,
    entry: &'o Entry<'a>,
}

impl One<'_, '_, '_> {
    fn feature(&self, feature: Feature) -> Option<f64> {
        let view = self.view;
        match feature {
            Feature::Level => self.own.doubt.map(|_| self.own.log),
            Feature::Best => self.own.doubt.map(|_| view.best()),
            Feature::LevelDoubt => self.own.doubt,
            Feature::Area => self.area(),
            Feature::Relative => Some(self.own.log - highest(self.others())?),
            Feature::LowestOther => Some(lowest(self.others())? - view.best()),
            Feature::SecondOther => Some(second(self.others())? - view.best()),
            Feature::Neighbour => Some(self.neighbour()?.log - view.best()),
            Feature::NeighbourGap => Some(self.own.log - self.neighbour()?.log),
            Feature::PairBelow => {
                Some(highest(self.rest()?)? - self.own.log.max(self.neighbour()?.log))
            }
            Feature::RestEven => Some(lowest(self.rest()?)? - highest(self.rest()?)?),
            Feature::Wet
            | Feature::WetSeal
            | Feature::WetForRings
            | Feature::WetArea
            | Feature::WetEarly
            | Feature::WetSameStrokes
            | Feature::WetFirstStrokes
            | Feature::WetDoubt
            | Feature::WetFirst
            | Feature::WetControl
            | Feature::WetOthersMost
            | Feature::WetOthersLeast => self.wet(feature),
            Feature::First => Some(self.entry.result.build_up.as_ref()?.first_share),
            Feature::FirstRelative => {
                let share = |e: &Entry<'_>| e.result.build_up.as_ref().map(|fit| fit.first_share);
                Some(share(self.entry)? - self.median_of_others(share)?)
            }
            Feature::FirstStroke => {
                let first = self.entry.result.strokes.first()?;
                Some(first.peak / self.entry.value)
            }
            Feature::BuildUp => Some(self.entry.result.build_up.as_ref()?.ratio),
            Feature::Droop => {
                let droop = self.entry.result.droop.as_ref()?;
                let share = (droop.per_second / self.entry.value).max(0.0);
                Some(libm::log(share + DROOP_FLOOR))
            }
            Feature::Cadence => {
                let usual = expected::usual_crank(view.case.card?.engine.start);
                Some(libm::log(self.entry.crank? / usual))
            }
            Feature::CadenceRelative => {
                let others = self.median_of_others(|e| e.crank.map(Rate::hz))?;
                Some(libm::log(self.entry.crank?.hz() / others))
            }
            Feature::Warmth => self.warmth(),
            Feature::Cylinders => Some(view.case.cylinders.len() as f64),
            Feature::Holding => match self.entry.result.rig? {
                Rig::Holding => Some(1.0),
                Rig::Following => Some(0.0),
            },
            Feature::Bursts => {
                let start = view.case.card?.engine.start?;
                let bursts = matches!(start, Start::Kick | Start::PullCord);
                Some(f64::from(u8::from(bursts)))
            }
        }
    }

    fn area(&self) -> Option<f64> {
        let case = self.view.case;
        let healthy = expected::healthy_leak_mm2(case.card?)?;
        let own = leak::likely_mm2(self.entry)?;
        Some(libm::log((own / healthy).max(LEAST_AREA)))
    }

    fn wet(&self, feature: Feature) -> Option<f64> {
        let view = self.view;
        let others = || self.others_at().filter_map(|at| view.beyond(at));
        match feature {
            Feature::WetOthersMost => return highest(others()),
            Feature::WetOthersLeast => return lowest(others()),
            _ => {}
        }
        let own = view.oiled.get(self.own.at)?.as_ref()?;
        match feature {
            Feature::Wet => Some(own.beyond),
            Feature::WetFirst => {
                let entries = &view.case.cylinders.get(self.own.at)?.entries;
                let wet = entries.get(&Condition::Wet)?;
                Some(wet.result.build_up.as_ref()?.first_share)
            }
            Feature::WetControl => Some(own.beyond - self.control()?),
            Feature::WetSeal => {
                let if_rings = own.modelled?.if_rings.max(LEAST_IF_RINGS);
                Some((own.beyond / if_rings).clamp(-MOST_SEAL, MOST_SEAL))
            }
            Feature::WetForRings => Some(own.modelled?.for_rings(own.beyond)),
            Feature::WetArea => Some(own.modelled?.area),
            Feature::WetEarly => own.modelled?.early,
            Feature::WetSameStrokes => own.same_strokes,
            Feature::WetFirstStrokes => own.first_strokes,
            Feature::WetDoubt => Some(own.modelled?.standard),
            _ => None,
        }
    }

    /// Mean change with oil of the other cylinders that read well.
    fn control(&self) -> Option<f64> {
        let view = self.view;
        let well = view.best() + CONTROL_FROM;
        let changes: Vec<f64> = view
            .levels
            .iter()
            .filter(|level| level.at != self.own.at && level.log >= well)
            .filter_map(|level| view.beyond(level.at))
            .collect();
        (!changes.is_empty()).then(|| changes.iter().sum::<f64>() / changes.len() as f64)
    }

    fn warmth(&self) -> Option<f64> {
        let entries = &self.view.case.cylinders.get(self.own.at)?.entries;
        let read = |condition| entries.get(&condition).map(|entry| entry.value);
        Some(libm::log(
            read(Condition::WarmDry)? / read(Condition::ColdDry)?,
        ))
    }

    fn others_at(&self) -> impl Iterator<Item = usize> {
        let others = self.view.levels.iter().map(|level| level.at);
        others.filter(|at| *at != self.own.at)
    }

    fn others(&self) -> impl Iterator<Item = f64> {
        let others = self.view.levels.iter();
        others
            .filter(|level| level.at != self.own.at)
            .map(|level| level.log)
    }

    fn neighbour(&self) -> Option<&Level> {
        let at = lowest_neighbour(self.view.case, self.own.at)?;
        self.view.levels.iter().find(|level| level.at == at)
    }

    /// Those that are neither this cylinder nor its lowest neighbour.
    fn rest(&self) -> Option<impl Iterator<Item = f64>> {
        let neighbour = self.neighbour()?.at;
        let rest = self.view.levels.iter();
        Some(
            rest.filter(move |level| level.at != self.own.at && level.at != neighbour)
                .map(|level| level.log),
        )
    }

    fn median_of_others(&self, pick: impl Fn(&Entry<'_>) -> Option<f64>) -> Option<f64> {
        let case = self.view.case;
        let mut values: Vec<f64> = self
            .others_at()
            .filter_map(|at| pick(case.dry_entry(at)?))
            .filter(|value| value.is_finite() && *value > 0.0)
            .collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied()
    }
}

fn highest(values: impl Iterator<Item = f64>) -> Option<f64> {
    values.max_by(f64::total_cmp)
}

fn lowest(values: impl Iterator<Item = f64>) -> Option<f64> {
    values.min_by(f64::total_cmp)
}

/// The second highest.
fn second(values: impl Iterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(|a, b| b.total_cmp(a));
    values.get(1).copied()
}
