//! The engine with the tester in one of its plug holes, stepping through time.

use super::SimulateError;
use super::air::Air;
use super::airline::Airline;
use super::derived::{Derived, Gas};
use super::driver::Driver;
use super::layout::{Layout, at_rest};
use super::network::{self, Ledger, Network, Shaft, Unknowns, Volume};
use super::spec::{Oil, RunSpec};

/// Longer steps while nothing turns, as a multiple of the step.
const AT_REST: f64 = 8.0;

/// An engine being cranked, with a tester in the plug hole of one cylinder.
#[derive(Clone, Debug)]
pub struct Machine {
    pub(super) network: Network,
    pub(super) layout: Layout,
    driver: Driver,
    pub(super) state: Unknowns,
    pub(super) derived: Derived,
    pub(super) time: f64,
    /// An air line in place of the tester's hose, for a test with air.
    pub(super) airline: Option<Airline>,
    step: f64,
    cranking: bool,
    oil: Option<Oil>,
    cycles: f64,
}

/// The machine at one moment. Pressures absolute, all in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Time since the start, in s.
    pub time: f64,
    /// Time to the next moment, in s.
    pub step: f64,
    /// Crank angle from the firing top dead centre of the cylinder under test, in rad.
    pub angle: f64,
    /// Crank speed, in rad/s.
    pub speed: f64,
    /// Absolute pressure in the cylinder under test, in Pa.
    pub cylinder: f64,
    /// Temperature in the cylinder under test, in K.
    pub kelvin: f64,
    /// Volume of the cylinder under test, in m³.
    pub volume: f64,
    /// Absolute pressure at the sensor, in Pa.
    pub tester: f64,
}

impl Machine {
    pub(super) fn assemble(
        network: Network,
        layout: Layout,
        driver: Driver,
        spec: &RunSpec,
    ) -> Self {
        let mut machine = Self {
            derived: network.derived(),
            network,
            layout,
            driver,
            state: Unknowns::default(),
            time: 0.0,
            airline: None,
            step: spec.step_ms * 1e-3,
            cranking: false,
            oil: spec.oil,
            cycles: 0.0,
        };
        // The oil is poured in through the open plug hole.
        machine.work_oil_in(0.0);
        let angle = spec.starts_at_deg.to_radians();
        machine.state = at_rest(&machine.network, angle);
        machine
    }

    /// Begins or ends cranking.
    pub fn crank(&mut self, on: bool) {
        self.cranking = on;
        if let Some(speed) = self.driver.forced_speed() {
            let speed = if on { speed } else { 0.0 };
            let angle = network::angle(&self.state);
            network::set_crank(&mut self.state, angle, speed);
        }
    }

    /// Opens or shuts the bleed valve.
    pub fn bleed(&mut self, open: bool) {
        if let Some((link, area)) = self.layout.bleed {
            let area = if open { area } else { 0.0 };
            self.network.links[link].opening = network::Opening::Fixed(area);
        }
    }

    /// Whether a kick or pull is under way.
    pub fn pushing(&self) -> bool {
        self.driver.pushing()
    }

    /// Crank angle from the firing top dead centre of the cylinder under test, in rad.
    pub fn angle(&self) -> f64 {
        network::angle(&self.state) + self.layout.phase
    }

    /// Seconds since the start.
    pub const fn time(&self) -> f64 {
        self.time
    }

    /// Ambient pressure in Pa.
    pub const fn ambient(&self) -> f64 {
        self.network.ambient.pressure
    }

    /// From now on nobody's strength varies and the oil stays as it is: what is settled by
    /// more strokes, settles.
    pub(super) fn settle(&mut self) {
        self.driver.steady();
        self.oil = None;
    }

    /// Strokes that the oil has been in for.
    pub(super) const fn cycles(&self) -> f64 {
        self.cycles
    }

    /// The state now, and one step onwards.
    ///
    /// # Errors
    /// When the step is too long for what happens and the result is no number any more.
    pub fn advance(&mut self) -> Result<Moment, SimulateError> {
        let angle = network::angle(&self.state);
        let speed = network::speed(&self.state);
        let idle = !self.cranking && !self.driver.pushing() && speed.abs() < 0.05;
        let step = if idle { AT_REST * self.step } else { self.step };
        self.network.shaft = self.driver.shaft(self.cranking, self.time, angle, speed);
        if self.airline.as_ref().is_some_and(|airline| airline.held) {
            self.network.shaft = Shaft::Fixed;
        }
        self.feed_air(step);
        let rates = self.network.rates(&self.state, &mut self.derived);
        let gas = &self.derived.gas;
        let cylinder = &gas[self.layout.cylinder];
        let moment = Moment {
            time: self.time,
            step,
            angle: angle + self.layout.phase,
            speed,
            cylinder: cylinder.pressure,
            kelvin: cylinder.kelvin,
            volume: cylinder.volume,
            tester: gas[self.layout.sensor].pressure,
        };
        if !plausible(&gas[1..self.network.zones.len()]) {
            return Err(SimulateError::Diverged {
                at_s: self.time,
                step_ms: step * 1e3,
            });
        }
        self.network
            .step(&mut self.state, &rates, &mut self.derived, step);
        self.time += step;
        self.note_cycle(moment.angle);
        Ok(moment)
    }

    /// The oil works in and thins out once a cycle, with the valves open.
    fn note_cycle(&mut self, angle: f64) {
        let cycles = (angle / self.network.cycle + 0.5).floor().max(0.0);
        if cycles > self.cycles {
            self.cycles = cycles;
            self.work_oil_in(cycles);
        }
    }

    pub(super) fn work_oil_in(&mut self, cycles: f64) {
        let Some(oil) = self.oil else { return };
        let sealed = (1.0 - oil.ring_share) * libm::exp(-cycles / oil.seals_for_strokes);
        let filled = oil.ml * 1e-6 * libm::exp(-cycles / oil.stays_for_strokes);
        let leak = self.layout.leak;
        let area = leak.rings * (1.0 - sealed) + leak.others;
        self.network.links[leak.link].opening = network::Opening::Fixed(area);
        if let Volume::Cylinder { clearance, .. } =
            &mut self.network.zones[self.layout.cylinder].volume
        {
            *clearance = self.layout.clearance - filled;
        }
    }

    /// What crossed the boundary of the gas so far.
    pub fn ledger(&self) -> Ledger {
        network::ledger(&self.state)
    }

    /// Mass (kg) and internal energy (J) of all the gas in the machine.
    pub fn content(&self) -> (f64, f64) {
        (1..self.network.zones.len())
            .map(|zone| network::content(&self.state, zone))
            .fold((0.0, 0.0), |sum, c| (sum.0 + c.0, sum.1 + c.1))
    }

    /// The gas of this machine.
    pub const fn air(&self) -> &Air {
        &self.network.air
    }
}

fn plausible(gas: &[Gas]) -> bool {
    gas.iter()
        .all(|g| g.pressure > 0.0 && g.pressure < 1e8 && g.kelvin > 50.0 && g.kelvin < 3000.0)
}
