//! What is the matter with an engine of the population, its tester, its test or its card.

use super::engines::Made;
use super::population::Truth;
use crate::assess::CauseKind;
use crate::engine::JobCard;
use crate::simulate::{Cylinder, Draws, Gasket, Tester};

/// Share of leaking engines that leak in a second place.
const SECOND_LEAK: f64 = 0.2;
/// Of these, how many leak there in a cylinder that leaks already.
const SAME_CYLINDER: f64 = 0.4;
/// Share of cards that are wrong, and by how much at most: in the compression ratio, or in the
/// timing where they state one.
const WRONG_CARDS: f64 = 0.1;
const WRONG_RATIO: f64 = 1.0;
const WRONG_TIMING_DEG: f64 = 15.0;
/// Gives some engines that leak a second leak; whether this is one.
pub(super) fn second_leak(
    made: &mut Made,
    first: CauseKind,
    touched: &[usize],
    draws: &mut Draws,
) -> bool {
    if !is_leak(first) || !draws.chance(SECOND_LEAK) {
        return false;
    }
    let same = draws.chance(SAME_CYLINDER);
    let fits = |at: &usize| touched.contains(at) == same;
    let count = made.engine.cylinders.len();
    let mut places: Vec<usize> = (0..count).filter(fits).collect();
    if places.is_empty() {
        places = (0..count).collect();
    }
    let at = *draws.pick(&places);
    let valve = made.can_have(CauseKind::Valve) && draws.chance(0.45);
    let drop = share_taken(draws.unit());
    let leak = made.leak_for_drop(at, drop) - made.engine.cylinders[at].ring_leak_mm2;
    let cylinder = &mut made.engine.cylinders[at];
    if !valve {
        cylinder.ring_leak_mm2 += leak;
    } else if draws.chance(0.5) {
        cylinder.intake_leak_mm2 += leak;
    } else {
        cylinder.exhaust_leak_mm2 += leak;
    }
    true
}

/// Gives some cards a figure that is wrong: looked up for another model, or read off badly.
/// Whether this is one.
pub(super) fn spoil(card: &mut JobCard, draws: &mut Draws) -> bool {
    if !draws.chance(WRONG_CARDS) {
        return false;
    }
    let engine = &mut card.engine;
    match &mut engine.closes_deg_abdc {
        Some(closes) if draws.chance(0.5) => {
            *closes += draws.between(-WRONG_TIMING_DEG, WRONG_TIMING_DEG);
        }
        _ => {
            let by = draws.between(-WRONG_RATIO, WRONG_RATIO);
            engine.compression_ratio = engine.compression_ratio.map(|ratio| ratio + by);
        }
    }
    true
}

/// Whether it is a hole in the cylinder.
pub(super) const fn is_leak(cause: CauseKind) -> bool {
    matches!(
        cause,
        CauseKind::Rings | CauseKind::Valve | CauseKind::Gasket
    )
}

/// What leaks in a cylinder beyond what healthy rings let through, the largest hole first.
fn leaks(cylinder: &Cylinder, healthy: f64, gasket: f64) -> Vec<CauseKind> {
    let mut holes: Vec<(CauseKind, f64)> = vec![
        (CauseKind::Rings, cylinder.ring_leak_mm2 - healthy),
        (
            CauseKind::Valve,
            cylinder.intake_leak_mm2 + cylinder.exhaust_leak_mm2,
        ),
        (CauseKind::Gasket, gasket),
    ];
    holes.retain(|(_, mm2)| *mm2 > 0.0);
    holes.sort_by(|a, b| b.1.total_cmp(&a.1));
    holes.into_iter().map(|(cause, _)| cause).collect()
}

/// What is true of each cylinder.
pub(super) fn truths(
    made: &Made,
    cause: CauseKind,
    touched: &[usize],
    healthy: &[f64],
) -> Vec<Truth> {
    made.engine
        .cylinders
        .iter()
        .zip(healthy)
        .enumerate()
        .map(|(at, (cylinder, healthy))| {
            let gasket: f64 = made
                .engine
                .gaskets
                .iter()
                .filter(|gasket| gasket.between.contains(&cylinder.name))
                .map(|gasket| gasket.leak_mm2)
                .sum();
            let mut causes = leaks(cylinder, *healthy, gasket).into_iter();
            let other = touched.contains(&at).then_some(cause);
            Truth {
                name: cylinder.name.clone(),
                cause: causes.next().or(other).unwrap_or(CauseKind::Healthy),
                also: causes.next(),
                leak_mm2: cylinder.ring_leak_mm2
                    + cylinder.intake_leak_mm2
                    + cylinder.exhaust_leak_mm2
                    + gasket,
                healthy_mm2: *healthy,
            }
        })
        .collect()
}

/// A fault that is put into an engine, its tester or its test.
pub(super) struct Fault<'a> {
    pub made: &'a mut Made,
    pub tester: &'a mut Tester,
    pub throttle: f64,
    pub slowed: f64,
    pub cause: CauseKind,
    pub severity: f64,
}

impl Fault<'_> {
    /// Applies it; gives the cylinders that it touches.
    pub(super) fn apply(&mut self, draws: &mut Draws) -> Vec<usize> {
        let count = self.made.engine.cylinders.len();
        let all: Vec<usize> = (0..count).collect();
        let one = vec![*draws.pick(&all)];
        match self.cause {
            CauseKind::Rings => {
                let worn = if draws.chance(0.3) { all } else { one };
                for &at in &worn {
                    let share = self.drop() * draws.between(0.85, 1.0);
                    let leak = self.made.leak_for_drop(at, share);
                    self.made.engine.cylinders[at].ring_leak_mm2 = leak;
                }
                worn
            }
            CauseKind::Valve => {
                let at = one[0];
                let cylinder = &self.made.engine.cylinders[at];
                let leak = self.made.leak_for_drop(at, self.drop()) - cylinder.ring_leak_mm2;
                let cylinder = &mut self.made.engine.cylinders[at];
                if draws.chance(0.5) {
                    cylinder.intake_leak_mm2 = leak;
                } else {
                    cylinder.exhaust_leak_mm2 = leak;
                }
                one
            }
            CauseKind::Gasket => {
                let first = *draws.pick(&all[..count - 1]);
                let names = &self.made.engine.cylinders;
                let between = [names[first].name.clone(), names[first + 1].name.clone()];
                let own = self.made.engine.cylinders[first].ring_leak_mm2;
                let leak_mm2 = self.made.leak_for_drop(first, self.drop()) - own;
                self.made.engine.gaskets = vec![Gasket { between, leak_mm2 }];
                vec![first, first + 1]
            }
            CauseKind::HighCompression => {
                let coked = if draws.chance(0.6) { all } else { one };
                let clearance = self.made.clearance_cm3();
                for &at in &coked {
                    let share = 0.10 + 0.18 * self.severity;
                    self.made.engine.cylinders[at].deposits_cm3 =
                        clearance * share * draws.between(0.85, 1.0);
                }
                coked
            }
            CauseKind::ValveTiming => {
                let late = 15.0 + 20.0 * self.severity;
                for cylinder in &mut self.made.engine.cylinders {
                    cylinder.cam_late_deg = late;
                }
                all
            }
            CauseKind::ThrottleShut => {
                self.throttle = 0.04 * (1.0 - self.severity);
                all
            }
            CauseKind::SlowCranking => {
                self.slowed = 0.75 - 0.25 * self.severity;
                self.made.slow_down(self.slowed);
                all
            }
            CauseKind::TesterLeak => {
                let small = (self.made.swept_cm3() / 300.0).min(1.0);
                let leak = small * 0.05 * libm::pow(12.0, self.severity);
                match &mut self.tester.check_valve {
                    Some(valve) if draws.chance(0.5) => valve.leak_mm2 = leak,
                    Some(_) => self.tester.leak_mm2 = leak * 0.5,
                    None => self.tester.leak_mm2 = leak * 5.0,
                }
                all
            }
            _ => Vec::new(),
        }
    }

    fn drop(&self) -> f64 {
        share_taken(self.severity)
    }
}

/// Share of the reading that a leak takes: 10 % to 65 %, small leaks more often.
fn share_taken(severity: f64) -> f64 {
    0.10 * libm::pow(6.5, severity)
}
