//! The readings in order: which run counts for which cylinder in which condition.

use super::air::{self, Aired};
use super::as_read::compression;
use super::rules::RuleSet;
use super::saying::{Measurement, Read};
use crate::engine::expected::{Expected, crank_speed, usual_crank};
use crate::engine::stroke::{Compression, leaks_mm2};
use crate::engine::{Ambient, Condition, Cycle, EngineKind, Ignition, JobCard, Start};
use crate::leakdown::AirTest;
use crate::signal::RunResult;
use crate::units::{Pressure, Rate};
use std::cell::OnceCell;
use std::collections::BTreeMap;

/// Strokes closer together than at this multiple of the usual speed are no two strokes.
const MOST_OF_USUAL: f64 = 2.0;
/// Strokes further apart than at this share of the fastest were not made together.
const SAME_BURST: f64 = 0.6;

/// A run as it comes from the analysis.
#[derive(Clone, Debug)]
pub struct RunInput<'a> {
    /// Its place in the findings.
    pub index: usize,
    /// Name of the cylinder.
    pub cylinder: String,
    /// The engine's condition.
    pub condition: Condition,
    /// The user took it back.
    pub void: bool,
    /// What was read.
    pub result: &'a RunResult,
}

/// The run that counts for a cylinder in a condition. Standard uncertainties.
#[derive(Clone, Debug)]
pub(super) struct Entry<'a> {
    pub run: usize,
    pub result: &'a RunResult,
    pub value: Pressure,
    pub standard: Pressure,
    /// Without what all runs share.
    pub relative: Pressure,
    pub at_least: bool,
    pub crank: Option<Rate>,
    /// The cylinder as it was read; none where the card does not give its geometry.
    pub own: Option<Compression>,
    /// The leak that lets this cylinder read what was read, mm².
    pub leak_mm2: Option<f64>,
    /// What a healthy cylinder should have read, once somebody has asked.
    pub expected: OnceCell<Option<Expected>>,
}

impl Entry<'_> {
    /// The reading with its standard uncertainty.
    pub(super) fn measured(&self) -> Measurement {
        Measurement {
            value: self.value,
            standard: self.standard,
        }
    }

    /// What a limit is held against, and what of that is not known for a climb that was cut short:
    /// the reading, or half way from it to where the needle was heading.
    pub(super) fn judged(&self) -> (Pressure, Pressure) {
        let heading = self.result.reading.as_ref().and_then(|r| r.heading);
        match heading.filter(|heading| *heading > self.value) {
            Some(heading) => {
                let half = (heading - self.value) * 0.5;
                (self.value + half, half)
            }
            None => (self.value, Pressure::ZERO),
        }
    }
}

/// A cylinder and its runs.
#[derive(Clone, Debug)]
pub(super) struct Cylinder<'a> {
    pub name: String,
    /// Places of its neighbours in the case.
    pub neighbours: Vec<usize>,
    pub on_card: bool,
    pub entries: BTreeMap<Condition, Entry<'a>>,
    /// Every usable run, also those that a later one replaced.
    pub all: Vec<(Condition, Entry<'a>)>,
}

/// Everything that the assessment looks at.
#[derive(Clone, Debug)]
pub(super) struct Case<'a> {
    pub card: Option<&'a JobCard>,
    pub rules: &'a RuleSet,
    /// Tests with air, in the order made.
    pub air: &'a [AirTest],
    pub kind: EngineKind,
    pub ignition: Ignition,
    pub cycle: Option<Cycle>,
    pub ambient: Ambient,
    pub cylinders: Vec<Cylinder<'a>>,
    /// Runs without a reading: place, name of the cylinder, condition.
    pub unusable: Vec<(usize, String, Condition)>,
    /// Runs that the user took back: name of the cylinder, condition.
    pub void: Vec<(String, Condition)>,
    /// The dry condition that the comparison rests on.
    pub dry: Option<Condition>,
}

impl<'a> Case<'a> {
    pub(super) fn new(
        card: Option<&'a JobCard>,
        runs: &[RunInput<'a>],
        air: &'a [AirTest],
        rules: &'a RuleSet,
    ) -> Self {
        let ambient = Ambient::of(card.and_then(|card| card.site.as_ref()));
        let mut cylinders = named(card, runs);
        let mut unusable = Vec::new();
        for run in runs.iter().filter(|run| !run.void) {
            let Some(cylinder) = cylinders.iter_mut().find(|c| c.name == run.cylinder) else {
                continue;
            };
            match entry(run, card, &ambient) {
                Some(entry) => cylinder.all.push((run.condition, entry)),
                None => unusable.push((run.index, run.cylinder.clone(), run.condition)),
            }
        }
        find_leaks(&mut cylinders);
        for cylinder in &mut cylinders {
            cylinder.entries = counted(&cylinder.all);
        }
        Self {
            card,
            rules,
            air,
            kind: EngineKind::of(card),
            ignition: card.map_or_else(Ignition::default, |card| card.engine.ignition),
            cycle: card.map(|card| card.engine.cycle),
            ambient,
            dry: dry_condition(&cylinders),
            cylinders,
            unusable,
            void: runs
                .iter()
                .filter(|run| run.void)
                .map(|run| (run.cylinder.clone(), run.condition))
                .collect(),
        }
    }

    /// Every reading of a condition with its cylinder's place.
    pub(super) fn of(&self, condition: Condition) -> Vec<(usize, &Entry<'a>)> {
        self.cylinders
            .iter()
            .enumerate()
            .filter_map(|(at, c)| c.entries.get(&condition).map(|entry| (at, entry)))
            .collect()
    }

    /// A cylinder's reading in the dry condition that the comparison rests on.
    pub(super) fn dry_entry(&self, at: usize) -> Option<&Entry<'a>> {
        self.cylinders.get(at)?.entries.get(&self.dry?)
    }

    /// The leak-down test that counts for a cylinder.
    pub(super) fn aired(&self, at: usize) -> Option<Aired<'a>> {
        air::of(self.air, self.name(at))
    }

    /// What a cylinder reads in a condition, as it is named in sentences.
    pub(super) fn read(&self, at: usize, condition: Condition, entry: &Entry<'_>) -> Read {
        Read {
            cylinder: self.name(at).to_owned(),
            condition,
            reading: entry.measured(),
            climbing: entry.at_least,
        }
    }

    /// Names of the cylinders in these places.
    pub(super) fn names(&self, places: &[usize]) -> Vec<String> {
        places.iter().map(|at| self.name(*at).to_owned()).collect()
    }

    /// A cylinder's name; empty past the end.
    pub(super) fn name(&self, at: usize) -> &str {
        self.cylinders.get(at).map_or("", |c| c.name.as_str())
    }
}

/// The card's cylinders in its order, then those that only the recording knows.
fn named<'a>(card: Option<&JobCard>, runs: &[RunInput<'_>]) -> Vec<Cylinder<'a>> {
    let mut cylinders: Vec<Cylinder<'a>> = Vec::new();
    let mut add = |name: &str, on_card: bool| {
        if !cylinders.iter().any(|c| c.name == name) {
            cylinders.push(Cylinder {
                name: name.to_owned(),
                neighbours: Vec::new(),
                on_card,
                entries: BTreeMap::new(),
                all: Vec::new(),
            });
        }
    };
    for spec in card.map_or(&[][..], |card| &card.cylinders) {
        add(&spec.name, true);
    }
    for run in runs.iter().filter(|run| !run.void) {
        add(&run.cylinder, false);
    }
    let names: Vec<String> = cylinders.iter().map(|c| c.name.clone()).collect();
    for cylinder in &mut cylinders {
        // Either side may name the other.
        cylinder.neighbours = names
            .iter()
            .enumerate()
            .filter(|(_, other)| beside(card, &cylinder.name, other))
            .map(|(at, _)| at)
            .collect();
    }
    cylinders
}

fn beside(card: Option<&JobCard>, one: &str, other: &str) -> bool {
    let lists = |from: &str, to: &str| {
        card.is_some_and(|card| {
            card.cylinders
                .iter()
                .any(|c| c.name == from && c.neighbours.iter().any(|n| n == to))
        })
    };
    one != other && (lists(one, other) || lists(other, one))
}

/// What counts of a run; none where it has no finite reading.
fn entry<'a>(run: &RunInput<'a>, card: Option<&JobCard>, ambient: &Ambient) -> Option<Entry<'a>> {
    let reading = run.result.reading.as_ref()?;
    let finite = reading.value.is_finite()
        && reading.expanded.is_finite()
        && reading.expanded_relative.is_finite();
    let crank = card.and_then(|card| crank(run.result, card));
    finite.then(|| Entry {
        run: run.index,
        result: run.result,
        value: reading.value,
        standard: reading.expanded.abs() * 0.5,
        relative: reading.expanded_relative.abs() * 0.5,
        at_least: reading.is_at_least(),
        crank,
        own: card.and_then(|card| compression(card, ambient, run.condition, crank)),
        leak_mm2: None,
        expected: OnceCell::new(),
    })
}

/// Finds the leak behind every reading, all of them together.
fn find_leaks(cylinders: &mut [Cylinder<'_>]) {
    let all = cylinders.iter_mut().flat_map(|cylinder| &mut cylinder.all);
    let (found, readings): (Vec<&mut Option<f64>>, Vec<(Compression, Pressure)>) = all
        .filter_map(|(_, entry)| Some((&mut entry.leak_mm2, (entry.own?, entry.value))))
        .unzip();
    for (slot, leak) in found.into_iter().zip(leaks_mm2(&readings)) {
        *slot = leak;
    }
}

/// The crank speed of a run. Where it was turned in bursts it is that of the strokes which a burst
/// made together: pauses and strokes that went unseen make the spacing of others too wide.
fn crank(result: &RunResult, card: &JobCard) -> Option<Rate> {
    let start = card.engine.start;
    let of = |strokes: Rate| crank_speed(strokes, card.engine.cycle, start);
    let median = result.cadence.as_ref()?.median;
    if !matches!(start, Some(Start::Kick | Start::PullCord)) {
        return of(median);
    }
    let most = usual_crank(start) * MOST_OF_USUAL;
    let spacings = result.strokes.iter().filter_map(|stroke| stroke.interval);
    let rates = spacings.filter_map(|spacing| of(Rate::from_hz(1.0 / spacing.s())));
    let mut together: Vec<Rate> = rates.filter(|rate| *rate <= most).collect();
    together.sort_by(|a, b| a.hz().total_cmp(&b.hz()));
    let fastest = *together.last()?;
    together.retain(|rate| *rate >= fastest * SAME_BURST);
    together.get(together.len() / 2).copied()
}

/// For each condition the last run whose needle had stopped climbing, or the last one if none had.
fn counted<'a>(all: &[(Condition, Entry<'a>)]) -> BTreeMap<Condition, Entry<'a>> {
    let mut chosen: BTreeMap<Condition, Entry<'a>> = BTreeMap::new();
    for (condition, entry) in all {
        let keep = chosen
            .get(condition)
            .is_some_and(|kept| !kept.at_least && entry.at_least);
        if !keep {
            chosen.insert(*condition, entry.clone());
        }
    }
    chosen
}

/// Warm or cold, whichever has more cylinders; warm where both have as many.
fn dry_condition(cylinders: &[Cylinder<'_>]) -> Option<Condition> {
    let count = |condition: Condition| {
        cylinders
            .iter()
            .filter(|c| c.entries.contains_key(&condition))
            .count()
    };
    let (warm, cold) = (count(Condition::WarmDry), count(Condition::ColdDry));
    if warm == 0 && cold == 0 {
        None
    } else if cold > warm {
        Some(Condition::ColdDry)
    } else {
        Some(Condition::WarmDry)
    }
}
