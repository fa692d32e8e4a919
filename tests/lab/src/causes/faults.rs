//! What is the matter with an engine of the population, its tester, its test or its card.

use super::engines::{Made, scaled};
use super::visit::Cause;
use crate::draws::Draws;
use crate::parts::swept_cm3;
use needlerest::engine::JobCard;
use needlerest::simulate::{Cylinder, Gasket, Tester};

/// Share of leaking engines that leak in a second place.
const SECOND_LEAK: f64 = 0.15;
/// Share of cards that are wrong, and by how much at most: in the compression ratio, or in the
/// timing where they state one.
const WRONG_CARDS: f64 = 0.04;
const WRONG_RATIO: f64 = 1.0;
const WRONG_TIMING_DEG: f64 = 15.0;

/// Gives some engines that leak a second leak.
pub fn second_leak(made: &mut Made, first: Cause, d: &mut Draws) {
    if !first.is_leak() || !d.chance(SECOND_LEAK) {
        return;
    }
    let count = made.engine.cylinders.len();
    let at = d.pick(&(0..count).collect::<Vec<_>>(), 0);
    let valve = made.can_have(Cause::Valve) && d.chance(0.45);
    let drop = share_taken(d.unit());
    let leak = made.leak_for_drop(at, drop) - made.engine.cylinders[at].ring_leak_mm2;
    let cylinder = &mut made.engine.cylinders[at];
    if !valve {
        cylinder.ring_leak_mm2 += leak;
    } else if d.chance(0.5) {
        cylinder.intake_leak_mm2 += leak;
    } else {
        cylinder.exhaust_leak_mm2 += leak;
    }
}

/// Gives some cards a figure that is wrong: looked up for another model, or read off badly.
/// Whether this is one.
pub fn spoil(card: &mut JobCard, d: &mut Draws) -> bool {
    if !d.chance(WRONG_CARDS) {
        return false;
    }
    let engine = &mut card.engine;
    match &mut engine.closes_deg_abdc {
        Some(closes) if d.chance(0.5) => {
            *closes += d.between(-WRONG_TIMING_DEG, WRONG_TIMING_DEG);
        }
        _ => {
            let by = d.between(-WRONG_RATIO, WRONG_RATIO);
            engine.compression_ratio = engine.compression_ratio.map(|ratio| ratio + by);
        }
    }
    true
}

/// What leaks in a cylinder beyond what sound ones let through, the largest hole first.
pub fn leaks(cylinder: &Cylinder, sound: &Cylinder, gasket: f64) -> Vec<Cause> {
    let valves = |c: &Cylinder| c.intake_leak_mm2 + c.exhaust_leak_mm2;
    let mut holes: Vec<(Cause, f64)> = vec![
        (Cause::Rings, cylinder.ring_leak_mm2 - sound.ring_leak_mm2),
        (Cause::Valve, valves(cylinder) - valves(sound)),
        (Cause::Gasket, gasket),
    ];
    holes.retain(|(_, mm2)| *mm2 > 0.0);
    holes.sort_by(|a, b| b.1.total_cmp(&a.1));
    holes.into_iter().map(|(cause, _)| cause).collect()
}

/// A fault that is put into an engine, its tester or its test.
pub struct Fault<'a> {
    pub made: &'a mut Made,
    pub tester: &'a mut Tester,
    /// How far the throttle is open.
    pub throttle: f64,
    /// Share of its usual speed that the engine is turned at.
    pub slowed: f64,
    pub cause: Cause,
    /// How bad, from 0 to 1 within its range.
    pub severity: f64,
}

impl Fault<'_> {
    /// Applies it; gives the cylinders that it touches.
    pub fn apply(&mut self, d: &mut Draws) -> Vec<usize> {
        let all: Vec<usize> = (0..self.made.engine.cylinders.len()).collect();
        let one = d.pick(&all, 0);
        match self.cause {
            Cause::Sound => Vec::new(),
            Cause::Rings => self.rings(if d.chance(0.2) { all } else { vec![one] }, d),
            Cause::Valve => self.valve(one, d),
            Cause::Gasket => self.gasket(d),
            Cause::Deposits => self.deposits(if d.chance(0.5) { all } else { vec![one] }, d),
            Cause::Timing => {
                for cylinder in &mut self.made.engine.cylinders {
                    cylinder.cam_late_deg = 15.0 + 20.0 * self.severity;
                }
                all
            }
            Cause::Throttle => {
                self.throttle = 0.04 * (1.0 - self.severity);
                all
            }
            Cause::Slow => {
                self.slowed = 0.65 - 0.3 * self.severity;
                self.made.turning = scaled(self.made.turning, self.slowed);
                all
            }
            Cause::TesterLeak => {
                self.tester_leak(d);
                all
            }
        }
    }

    fn rings(&mut self, worn: Vec<usize>, d: &mut Draws) -> Vec<usize> {
        for &at in &worn {
            let share = share_taken(self.severity) * d.between(0.85, 1.0);
            let leak = self.made.leak_for_drop(at, share);
            self.made.engine.cylinders[at].ring_leak_mm2 = leak;
        }
        worn
    }

    fn valve(&mut self, at: usize, d: &mut Draws) -> Vec<usize> {
        let with = self.made.leak_for_drop(at, share_taken(self.severity));
        let cylinder = &mut self.made.engine.cylinders[at];
        let leak = with - cylinder.ring_leak_mm2;
        if d.chance(0.5) {
            cylinder.intake_leak_mm2 = leak;
        } else {
            cylinder.exhaust_leak_mm2 = leak;
        }
        vec![at]
    }

    /// Between two neighbours.
    fn gasket(&mut self, d: &mut Draws) -> Vec<usize> {
        let count = self.made.engine.cylinders.len();
        let first = d.pick(&(0..count - 1).collect::<Vec<_>>(), 0);
        let with = self.made.leak_for_drop(first, share_taken(self.severity));
        let names = &self.made.engine.cylinders;
        let between = [names[first].name.clone(), names[first + 1].name.clone()];
        let leak_mm2 = with - names[first].ring_leak_mm2;
        self.made.engine.gaskets = vec![Gasket { between, leak_mm2 }];
        vec![first, first + 1]
    }

    fn deposits(&mut self, coked: Vec<usize>, d: &mut Draws) -> Vec<usize> {
        let clearance = self.made.clearance_cm3();
        for &at in &coked {
            let share = 0.08 + 0.16 * self.severity;
            self.made.engine.cylinders[at].deposits_cm3 = clearance * share * d.between(0.85, 1.0);
        }
        coked
    }

    fn tester_leak(&mut self, d: &mut Draws) {
        let small = (swept_cm3(&self.made.engine) / 300.0).min(1.0);
        let leak = small * 0.03 * libm::pow(12.0, self.severity);
        match &mut self.tester.check_valve {
            Some(valve) if d.chance(0.5) => valve.leak_mm2 = leak,
            Some(_) => self.tester.leak_mm2 = leak * 0.5,
            None => self.tester.leak_mm2 = leak * 5.0,
        }
    }
}

/// Share of the reading that a leak takes: 8 % to 65 %, small leaks more often.
fn share_taken(severity: f64) -> f64 {
    0.08 * libm::pow(8.0, severity)
}
