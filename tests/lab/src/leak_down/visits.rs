//! Visits cranked and then tested with air: the two leaks side by side, and the leading cause.

use super::bench::{self, RESTRICTORS_MM};
use super::share;
use crate::causes::{own, population, visit};
use crate::draws::Draws;
use needlerest::assess::{CauseKind, RuleSet, ValveSide, assess_with_air};
use needlerest::engine::JobCard;
use needlerest::leakdown::{AirFlag, AirTest, Place};
use needlerest::simulate::RunSpec;
use rayon::prelude::*;
use std::fmt::Write as _;

/// How often the place that is heard loudest is not that of the largest hole. Own choice.
const MISHEARD: f64 = 0.03;
/// A hole so much larger than all others together is told by ear; others are a toss-up.
const LOUD: f64 = 1.5;

/// What leaks most in a cylinder.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Hole {
    Rings,
    Intake,
    Exhaust,
    Gasket,
}

/// A cylinder that was cranked and tested with air.
struct Tested {
    agrees: Option<bool>,
    /// The test itself was sound: nothing throttled or slowed, no tester that leaked.
    sound_test: bool,
    bad: bool,
    /// One hole is much larger than the others.
    clear: bool,
    hole: Hole,
    said: Option<(CauseKind, Option<ValveSide>)>,
}

/// One page of it.
pub fn page(seed: u64, visits: u64) -> String {
    let tested: Vec<Tested> = (0..visits)
        .into_par_iter()
        .flat_map_iter(|index| one(seed, index).unwrap_or_default())
        .collect();
    let mut out = String::new();
    let judged = |which: &dyn Fn(&Tested) -> bool| {
        let all = tested.iter().filter(|t| which(t) && t.agrees.is_some());
        let (mut are, mut of) = (0, 0);
        for one in all {
            of += 1;
            are += usize::from(one.agrees == Some(true));
        }
        share(are, of)
    };
    let _ = writeln!(
        out,
        "leak by cranking and by leak-down agree: {}",
        judged(&|t| t.sound_test)
    );
    let _ = writeln!(
        out,
        "… of bad cylinders: {}",
        judged(&|t| t.sound_test && t.bad)
    );
    let _ = writeln!(
        out,
        "… where throttle, cranking or tester was at fault: {}\n",
        judged(&|t| !t.sound_test)
    );
    let leads = |which: &dyn Fn(&Tested) -> bool| {
        let all: Vec<&Tested> = tested
            .iter()
            .filter(|t| t.bad && t.said.is_some() && which(t))
            .collect();
        share(all.iter().filter(|t| t.right()).count(), all.len())
    };
    let _ = writeln!(
        out,
        "leading cause right, bad cylinders: {}",
        leads(&|_| true)
    );
    let _ = writeln!(
        out,
        "… where one hole is much the largest: {}",
        leads(&|t| t.clear)
    );
    for hole in [Hole::Rings, Hole::Intake, Hole::Exhaust, Hole::Gasket] {
        let _ = writeln!(out, "… {hole:?}: {}", leads(&|t| t.hole == hole));
    }
    out
}

impl Tested {
    fn right(&self) -> bool {
        let wanted = match self.hole {
            Hole::Rings => (CauseKind::Rings, None),
            Hole::Intake => (CauseKind::Valve, Some(ValveSide::Intake)),
            Hole::Exhaust => (CauseKind::Valve, Some(ValveSide::Exhaust)),
            Hole::Gasket => (CauseKind::Gasket, None),
        };
        self.said == Some(wanted)
    }
}

fn one(seed: u64, index: u64) -> Option<Vec<Tested>> {
    let plan = population::visit(seed, index);
    if plan.dry.first()?.engine.valves.is_none() || plan.card_wrong {
        return None;
    }
    let read = own::visit(seed, index).ok()?;
    let mut d = Draws::new(seed ^ 0xa1, index);
    let condition = plan.dry.last()?.condition;
    let specs: Vec<&RunSpec> = plan
        .dry
        .iter()
        .filter(|spec| spec.condition == condition)
        .collect();
    let mut tests: Vec<AirTest> = Vec::new();
    let mut holes = Vec::new();
    for spec in &specs {
        let (hole, clear) = largest(spec)?;
        let heard = heard(&mut d, hole, spec, &read.card);
        tests.push(tested(&mut d, spec, &read.card, heard)?);
        holes.push((spec.cylinder.clone(), hole, clear));
    }
    let assessed = assess_with_air(
        Some(&read.card),
        &read.inputs(),
        &tests,
        &RuleSet::default(),
    );
    let sound_test = !plan.cause.is_of_test() && plan.cause != visit::Cause::Timing;
    let all = holes.into_iter().filter_map(|(name, hole, clear)| {
        let known = read.cylinders.iter().find(|known| known.name == name)?;
        let found = assessed.cylinders.iter().find(|c| c.name == name)?;
        Some(Tested {
            agrees: found.leak_down.as_ref().and_then(|beside| beside.agrees),
            sound_test,
            bad: known.is_bad() && sound_test,
            clear,
            hole,
            said: found.causes.first().map(|cause| (cause.kind, cause.valve)),
        })
    });
    Some(all.collect())
}

/// The test, made again with another restrictor where the first did not suit.
fn tested(d: &mut Draws, spec: &RunSpec, card: &JobCard, heard: Place) -> Option<AirTest> {
    let mut spec = spec.clone();
    // The air line is another tester, and the throttle does not matter.
    spec.tester.leak_mm2 = 0.0;
    spec.throttle = 1.0;
    let mm = d.pick(&RESTRICTORS_MM, 1.0);
    let plan = bench::plan(d, mm, false);
    let made = bench::make(&spec, card, &plan, &[heard]).ok()?;
    let better = made.test.flags().iter().find_map(|flag| match flag {
        AirFlag::RestrictorDoesNotSuit { take_mm } => Some(*take_mm),
        _ => None,
    });
    let Some(better) = better else {
        return Some(made.test);
    };
    let plan = bench::plan(d, better, false);
    Some(bench::make(&spec, card, &plan, &[heard]).ok()?.test)
}

/// The largest hole of a cylinder, and whether it is much larger than the others together.
fn largest(spec: &RunSpec) -> Option<(Hole, bool)> {
    let cylinder = spec
        .engine
        .cylinders
        .iter()
        .find(|c| c.name == spec.cylinder)?;
    let gaskets = spec.engine.gaskets.iter();
    let gasket: f64 = gaskets
        .filter(|gasket| gasket.between.contains(&spec.cylinder))
        .map(|gasket| gasket.leak_mm2)
        .sum();
    let mut holes = [
        (Hole::Rings, cylinder.ring_leak_mm2),
        (Hole::Intake, cylinder.intake_leak_mm2),
        (Hole::Exhaust, cylinder.exhaust_leak_mm2),
        (Hole::Gasket, gasket),
    ];
    holes.sort_by(|a, b| b.1.total_cmp(&a.1));
    let rest: f64 = holes[1..].iter().map(|(_, mm2)| mm2).sum();
    Some((holes[0].0, holes[0].1 > LOUD * rest))
}

/// Where whoever listens says that it is loudest.
fn heard(d: &mut Draws, hole: Hole, spec: &RunSpec, card: &JobCard) -> Place {
    let places = Place::of(Some(card));
    if d.chance(MISHEARD) {
        return d.pick(&places, Place::Nowhere);
    }
    let total: f64 = spec
        .engine
        .cylinders
        .iter()
        .filter(|c| c.name == spec.cylinder)
        .map(|c| c.ring_leak_mm2 + c.intake_leak_mm2 + c.exhaust_leak_mm2)
        .sum();
    let place = match hole {
        // A hiss that every ring lets past is not always heard.
        Hole::Rings if total < 0.15 && d.chance(0.5) => Place::Nowhere,
        Hole::Rings => Place::Breather,
        Hole::Intake => Place::Intake,
        Hole::Exhaust => Place::Exhaust,
        Hole::Gasket if d.chance(0.15) => Place::Coolant,
        Hole::Gasket => Place::NextHole,
    };
    if places.contains(&place) {
        place
    } else {
        Place::Nowhere
    }
}
