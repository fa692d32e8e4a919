//! Counts over many visits: what was called against what was true.

use super::measure::{Known, Seen};
use crate::assess::{
    Assessment, CauseKind, CylinderAssessment, Judgement, LeakArea, RuleSet, assess,
};
use crate::engine::{Condition, Start};
use crate::signal::{Outcome, Rig};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Bins of the stated probability.
pub(super) const BINS: usize = 10;
/// A leak counts from this drop of the reading on.
pub(super) const COUNTS_FROM: f64 = 0.15;
/// An engine is bad from this drop on.
pub(super) const BAD_FROM: f64 = 0.25;

/// Steps of the change of a reading: under 5 %, to 10 %, to 15 %, to 25 %, more.
pub(super) const CHANGES: [f64; 4] = [0.05, 0.10, 0.15, 0.25];

/// One bin of stated probabilities.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Bin {
    pub count: u32,
    pub stated: f64,
    pub right: u32,
}

/// A share as how many of how many.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Share {
    pub hits: u32,
    pub of: u32,
}

impl Share {
    fn add(&mut self, hit: bool) {
        self.of += 1;
        self.hits += u32::from(hit);
    }

    /// How many of these are so.
    pub(super) fn of<T>(all: impl Iterator<Item = T>, hit: impl Fn(T) -> bool) -> Self {
        let mut share = Self::default();
        for one in all {
            share.add(hit(one));
        }
        share
    }

    fn join(&mut self, other: Self) {
        self.hits += other.hits;
        self.of += other.of;
    }

    /// As a number from 0 to 1; none of nothing.
    pub(super) fn value(self) -> Option<f64> {
        (self.of > 0).then(|| f64::from(self.hits) / f64::from(self.of))
    }
}

/// Parts of the population in which the leading cause is counted apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Slice {
    /// One cylinder: nothing to compare with.
    OneCylinder,
    TwoCylinders,
    MoreCylinders,
    Electric,
    HandCrank,
    /// Kicked or pulled.
    Bursts,
    Holding,
    Following,
    /// Every run of the cylinder settled.
    Settled,
    /// Some run of the cylinder was extrapolated.
    Unsettled,
    SmallLeak,
    MiddlingLeak,
    LargeLeak,
    Rings,
    Valve,
    Gasket,
    /// The card states a wrong figure.
    WrongCard,
    /// Two leaks in one engine, in different cylinders.
    TwoApart,
    /// Two leaks in this cylinder.
    TwoInOne,
}

impl Slice {
    /// As the page names it.
    pub(super) const fn label(self) -> &'static str {
        match self {
            Self::OneCylinder => "engines of one cylinder",
            Self::TwoCylinders => "engines of two",
            Self::MoreCylinders => "engines of three and four",
            Self::Electric => "electric start",
            Self::HandCrank => "hand crank",
            Self::Bursts => "kick lever or pull cord",
            Self::Holding => "sensor behind a check valve",
            Self::Following => "sensor without one",
            Self::Settled => "every run of the cylinder settled",
            Self::Unsettled => "some run of it extrapolated",
            Self::SmallLeak => "leak lowers the reading by 15 to 25 %",
            Self::MiddlingLeak => "by 25 to 40 %",
            Self::LargeLeak => "by more",
            Self::Rings => "rings",
            Self::Valve => "valve",
            Self::Gasket => "gasket",
            Self::WrongCard => "the card states a wrong figure",
            Self::TwoApart => "engines that leak in two places, this cylinder in one of them",
            Self::TwoInOne => "two leaks in this cylinder",
        }
    }

    /// Those that a cylinder is in.
    fn of(seen: &Seen, known: &Known) -> Vec<Self> {
        if known.truth.also.is_some() {
            return vec![Self::TwoInOne];
        }
        if seen.two_leaks {
            return vec![Self::TwoApart];
        }
        let count = match seen.known.len() {
            1 => Self::OneCylinder,
            2 => Self::TwoCylinders,
            _ => Self::MoreCylinders,
        };
        let turned = match seen.card.engine.start {
            Some(Start::HandCrank) => Self::HandCrank,
            Some(Start::Kick | Start::PullCord) => Self::Bursts,
            _ => Self::Electric,
        };
        let leak = match known.drop() {
            drop if drop < 0.25 => Self::SmallLeak,
            drop if drop < 0.40 => Self::MiddlingLeak,
            _ => Self::LargeLeak,
        };
        let cause = match known.truth.cause {
            CauseKind::Rings => Self::Rings,
            CauseKind::Valve => Self::Valve,
            _ => Self::Gasket,
        };
        let own = || seen.reads.iter().filter(|r| r.cylinder == known.truth.name);
        let rig = match own().find_map(|read| read.result.rig) {
            Some(Rig::Following) => Self::Following,
            _ => Self::Holding,
        };
        let settled = if own().all(|read| read.result.outcome == Outcome::Settled) {
            Self::Settled
        } else {
            Self::Unsettled
        };
        let mut slices = vec![count, turned, leak, cause, rig, settled];
        slices.extend(seen.card_wrong.then_some(Self::WrongCard));
        slices
    }
}

/// Cylinders whose leak counts.
pub(super) fn leaks_that_count(seen: &Seen) -> impl Iterator<Item = &Known> {
    seen.known
        .iter()
        .filter(|known| known.drop() >= COUNTS_FROM)
}

/// The leak stated of a cylinder: that of its last dry run.
pub(super) fn leak_of(assessment: &Assessment, name: &str) -> Option<LeakArea> {
    let cylinder = assessment.cylinders.iter().find(|c| c.name == name)?;
    dry_leak(cylinder)
}

fn dry_leak(cylinder: &CylinderAssessment) -> Option<LeakArea> {
    cylinder.readings.iter().rev().find_map(|reading| {
        let dry = reading.condition != Condition::Wet;
        reading.leak.filter(|_| dry)
    })
}

/// Everything counted.
#[derive(Clone, Debug, Default)]
pub(super) struct Tally {
    /// True cause, called cause: cylinders.
    pub confusion: BTreeMap<(CauseKind, CauseKind), u32>,
    /// Leading cause right, of cylinders with a leak that counts and dry and wet readings, in
    /// engines that leak in one place.
    pub with_wet: Share,
    /// The same in engines that leak in two.
    pub with_wet_two: Share,
    /// Leading cause right and called healthy, by how much the cause changes the reading.
    pub by_change: BTreeMap<(CauseKind, usize), (Share, u32)>,
    /// The same, in parts of the population.
    pub slices: BTreeMap<Slice, Share>,
    /// Leading cause right (rings-or-valve counts as right for both), of cylinders with a leak
    /// that counts and only dry runs.
    pub dry_only: Share,
    /// The same in engines that leak in two places.
    pub dry_only_two: Share,
    /// Engines without a fault that are judged to fail.
    pub condemned: Share,
    /// Engines without a fault in which some cylinder's leading cause is a fault.
    pub suspected: Share,
    /// Bad engines that are judged to pass.
    pub passed_bad: Share,
    /// Bad engines that are judged to fail; that are low and not confirmed.
    pub failed_bad: Share,
    pub unconfirmed_bad: Share,
    /// Engines without a fault that are judged to pass; that are low and not confirmed.
    pub passed_good: Share,
    pub unconfirmed_good: Share,
    pub bins: [Bin; BINS],
    /// Estimated over true leak less 1, in size, of cylinders with a leak that counts.
    pub leak_errors: Vec<f64>,
    /// Whether the true leak lies within the stated uncertainty.
    pub leak_covered: Share,
}

impl Tally {
    /// Assesses every visit and counts.
    pub(super) fn of(seen: &[Seen], rules: &RuleSet) -> Self {
        seen.par_iter()
            .map(|seen| {
                let assessment = assess(Some(&seen.card), &seen.inputs(), rules);
                let mut tally = Self::default();
                tally.add(seen, &assessment);
                tally
            })
            .collect::<Vec<_>>()
            .into_iter()
            .fold(Self::default(), Self::joined)
    }

    fn add(&mut self, seen: &Seen, assessment: &Assessment) {
        for known in &seen.known {
            let found = assessment
                .cylinders
                .iter()
                .find(|cylinder| cylinder.name == known.truth.name);
            if let Some(cylinder) = found {
                self.add_cylinder(seen, known, cylinder);
            }
        }
        let judged = assessment.judgement;
        if seen.cause == CauseKind::Healthy {
            self.condemned.add(judged == Judgement::Fail);
            self.passed_good.add(judged == Judgement::Pass);
            self.unconfirmed_good.add(judged == Judgement::Unconfirmed);
            self.suspected
                .add(assessment.cylinders.iter().any(|cylinder| {
                    cylinder
                        .causes
                        .first()
                        .is_some_and(|cause| cause.kind != CauseKind::Healthy)
                }));
        }
        if seen.worst_drop() >= BAD_FROM {
            self.passed_bad.add(judged == Judgement::Pass);
            self.failed_bad.add(judged == Judgement::Fail);
            self.unconfirmed_bad.add(judged == Judgement::Unconfirmed);
        }
    }

    fn add_cylinder(&mut self, seen: &Seen, known: &Known, cylinder: &CylinderAssessment) {
        let Some(leading) = cylinder.causes.first() else {
            return;
        };
        let truth = known.truth.cause;
        *self.confusion.entry((truth, leading.kind)).or_default() += 1;
        let either = leading.kind == CauseKind::RingsOrValve
            && matches!(truth, CauseKind::Rings | CauseKind::Valve);
        let right = leading.kind == truth || either;
        if known.drop() >= COUNTS_FROM {
            if seen.wetted(&known.truth.name) {
                let right = leading.kind == truth;
                if seen.two_leaks {
                    self.with_wet_two.add(right);
                } else {
                    self.with_wet.add(right);
                }
                for slice in Slice::of(seen, known) {
                    self.slices.entry(slice).or_default().add(right);
                }
            } else if seen.two_leaks {
                self.dry_only_two.add(right);
            } else {
                self.dry_only.add(right);
            }
            if let Some(leak) = dry_leak(cylinder) {
                let error = leak.mm2 - known.truth.leak_mm2;
                self.leak_errors.push((error / known.truth.leak_mm2).abs());
                self.leak_covered.add(error.abs() <= leak.expanded_mm2);
            }
        }
        if truth != CauseKind::Healthy {
            let step = CHANGES.iter().filter(|from| known.change.abs() >= **from);
            let (share, healthy) = self.by_change.entry((truth, step.count())).or_default();
            share.add(right);
            *healthy += u32::from(leading.kind == CauseKind::Healthy);
        }
        let bin = ((leading.probability * BINS as f64) as usize).min(BINS - 1);
        let bin = &mut self.bins[bin];
        bin.count += 1;
        bin.stated += leading.probability;
        bin.right += u32::from(right);
    }

    fn joined(mut self, other: Self) -> Self {
        for (key, count) in other.confusion {
            *self.confusion.entry(key).or_default() += count;
        }
        self.with_wet.join(other.with_wet);
        self.with_wet_two.join(other.with_wet_two);
        for (key, (share, healthy)) in other.by_change {
            let own = self.by_change.entry(key).or_default();
            own.0.join(share);
            own.1 += healthy;
        }
        for (slice, share) in other.slices {
            self.slices.entry(slice).or_default().join(share);
        }
        self.dry_only.join(other.dry_only);
        self.dry_only_two.join(other.dry_only_two);
        self.condemned.join(other.condemned);
        self.suspected.join(other.suspected);
        self.passed_bad.join(other.passed_bad);
        self.passed_good.join(other.passed_good);
        self.unconfirmed_good.join(other.unconfirmed_good);
        self.failed_bad.join(other.failed_bad);
        self.unconfirmed_bad.join(other.unconfirmed_bad);
        self.leak_covered.join(other.leak_covered);
        self.leak_errors.extend(other.leak_errors);
        for (bin, more) in self.bins.iter_mut().zip(other.bins) {
            bin.count += more.count;
            bin.stated += more.stated;
            bin.right += more.right;
        }
        self
    }

    /// Expected calibration error of the leading cause's probability (Naeini, Cooper and
    /// Hauskrecht 2015): mean over bins of |share right − mean stated|, weighted by count.
    pub(super) fn calibration_error(&self) -> f64 {
        let total: u32 = self.bins.iter().map(|bin| bin.count).sum();
        let gaps: f64 = self
            .bins
            .iter()
            .map(|bin| (f64::from(bin.right) - bin.stated).abs())
            .sum();
        gaps / f64::from(total.max(1))
    }

    /// Median relative error of the leak area; none without any.
    pub(super) fn leak_error(&self) -> Option<f64> {
        let mut errors = self.leak_errors.clone();
        errors.sort_by(f64::total_cmp);
        errors.get(errors.len() / 2).copied()
    }
}
