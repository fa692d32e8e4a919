//! Air from a compressor at the plug hole of a cylinder that stands still: regulator, restrictor,
//! hose with the sensor, and a valve between hose and cylinder. Engine and leaks are those that are
//! cranked.

use super::network::Opening;
use super::random::Draws;
use crate::leakdown::Restrictor;
use serde::{Deserialize, Serialize};

/// The air and how it comes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AirSupply {
    /// What the regulator is set to.
    pub supply_kpa: f64,
    /// By how much it rises and falls while the compressor comes and goes, to either side (share).
    #[serde(default)]
    pub wobble: f64,
    /// How long the compressor takes from one start to the next.
    #[serde(default = "super::spec::minute")]
    pub cycle_s: f64,
    /// Quick noise of the regulator (standard deviation, share).
    #[serde(default)]
    pub noise: f64,
    /// Diameter of the restrictor.
    pub restrictor_mm: f64,
    /// Its discharge coefficient.
    pub coefficient: f64,
    /// Volume of the hose.
    pub hose_cm3: f64,
}

impl AirSupply {
    /// 80 psi behind a restrictor, from a usual compressor and through a usual hose.
    pub const fn usual(restrictor: Restrictor) -> Self {
        Self {
            supply_kpa: 552.0,
            wobble: 0.01,
            cycle_s: 30.0,
            noise: 0.002,
            restrictor_mm: restrictor.diameter_mm,
            coefficient: restrictor.coefficient,
            hose_cm3: 30.0,
        }
    }
}

/// The air line on a machine.
#[derive(Clone, Debug)]
pub(super) struct Airline {
    pub(super) supply: AirSupply,
    /// The tank's volume, and the links from it, into the cylinder, and to empty the hose.
    pub(super) tank: usize,
    pub(super) restrictor: usize,
    pub(super) way: usize,
    pub(super) vent: usize,
    /// The way into the cylinder, open.
    pub(super) open: Opening,
    /// Where in its cycle the compressor is at the start (0 to 1), and the noise now (share).
    pub(super) phase: f64,
    pub(super) wander: f64,
    pub(super) draws: Draws,
    pub(super) on: bool,
    /// The crank is held.
    pub(super) held: bool,
}

impl Airline {
    /// Pressure of the supply (Pa, gauge) at a time (s), a step (s) after the last.
    pub(super) fn gauge(&mut self, time: f64, step: f64) -> f64 {
        let keep = libm::exp(-step / 0.2);
        self.wander = keep * self.wander
            + self.supply.noise * (1.0 - keep * keep).sqrt() * self.draws.normal();
        if !self.on {
            return 0.0;
        }
        // The tank empties slowly and is filled fast.
        let at = (time / self.supply.cycle_s + self.phase).fract();
        let saw = if at < 0.7 {
            1.0 - 2.0 * at / 0.7
        } else {
            2.0 * (at - 0.7) / 0.3 - 1.0
        };
        self.supply.supply_kpa * 1e3 * (1.0 + self.supply.wobble * saw + self.wander)
    }
}
