//! The machine with an air line, and what its sensor tells.

use super::SimulateError;
use super::airline::{AirSupply, Airline};
use super::machine::{Machine, Moment};
use super::network::{Link, Opening, Volume, Wall, Zone, set_content};
use super::random::Draws;
use super::sensor::{Sample, Sampler};
use super::spec::{RunSpec, Tester};
use crate::leakdown::Stage;
use std::f64::consts::FRAC_PI_4;

/// What stands for the compressor's tank: so large that nothing empties it, in m³.
const TANK: f64 = 1.0;
/// Crank angle before and after the top, rad: 8 degrees.
const ASIDE: f64 = 0.14;
/// So far (rad) a crank stands off the top that was put there by eye.
const BY_EYE: f64 = 0.02;
/// Effective area of hose and adapter, bored 6 mm, in mm².
const WAY_MM2: f64 = 20.0;
/// Effective area of a two-stroke's crankcase that was opened, in mm².
const OPEN_CRANKCASE_MM2: f64 = 80.0;
/// Effective area through which hose and cylinder are emptied, in m².
const VENT: f64 = 1e-5;

impl Machine {
    /// The machine with an air line instead of the tester's hose: the crank held at the top of the
    /// cylinder's compression stroke, the air off.
    ///
    /// # Errors
    /// When the description is impossible; the error names the field.
    pub fn with_air(spec: &RunSpec, supply: &AirSupply) -> Result<Self, SimulateError> {
        check(supply)?;
        let mut engine = spec.engine.clone();
        if engine.ports.is_some() {
            // Its crankcase was opened for the test.
            for cylinder in &mut engine.cylinders {
                cylinder.intake_leak_mm2 = OPEN_CRANKCASE_MM2;
            }
        }
        let spec = RunSpec {
            engine,
            tester: Tester {
                hose_cm3: supply.hose_cm3,
                way_mm2: WAY_MM2,
                check_valve: None,
                heat_w_per_k: 0.3,
                ..spec.tester
            },
            ..spec.clone()
        };
        let mut machine = Self::new(&spec)?;
        let mut draws = Draws::new(spec.seed, 11);
        let network = &mut machine.network;
        let (cylinder, sensor) = (machine.layout.cylinder, machine.layout.sensor);
        network.zones.push(Zone {
            volume: Volume::Fixed(TANK),
            wall: Wall::Conductance(0.0),
            wall_kelvin: network.ambient.kelvin,
        });
        let tank = network.zones.len() - 1;
        let between = |link: &Link| link.from == cylinder && link.to == sensor;
        let way = network.links.iter().position(between).unwrap_or(0);
        let open = network.links[way].opening;
        let mut link = |from, to| {
            network.links.push(Link {
                from,
                to,
                opening: Opening::Fixed(0.0),
            });
            network.links.len() - 1
        };
        let restrictor = link(tank, sensor);
        let vent = link(sensor, super::surroundings::OPEN_AIR);
        let airline = Airline {
            supply: *supply,
            tank,
            restrictor,
            way,
            vent,
            open,
            phase: draws.unit(),
            wander: 0.0,
            draws,
            on: false,
            held: true,
        };
        machine.derived = machine.network.derived();
        machine.state = super::layout::at_rest(&machine.network, 0.0);
        machine.turn_to(0.0);
        machine.airline = Some(airline);
        machine.direct_air(Stage::Shut);
        Ok(machine)
    }

    /// Does this with the air. Nothing without an air line.
    pub fn direct_air(&mut self, stage: Stage) {
        let Some(mut airline) = self.airline.take() else {
            return;
        };
        airline.on = stage != Stage::Shut;
        let angle = match stage {
            Stage::Before => -ASIDE,
            Stage::After => ASIDE,
            _ => BY_EYE * (airline.draws.unit() - 0.5),
        };
        if airline.held {
            self.turn_to(angle);
        }
        let supply = airline.supply;
        let area = FRAC_PI_4 * supply.restrictor_mm * supply.restrictor_mm * 1e-6;
        let links = &mut self.network.links;
        let through = if airline.on {
            supply.coefficient * area
        } else {
            0.0
        };
        links[airline.restrictor].opening = Opening::Fixed(through);
        links[airline.way].opening = if stage.is_connected() {
            airline.open
        } else {
            Opening::Fixed(0.0)
        };
        links[airline.vent].opening = Opening::Fixed(0.0);
        self.airline = Some(airline);
    }

    /// Shuts the air off and leaves the cylinder connected: what leaks out shows.
    pub fn shut_off(&mut self) {
        if let Some(airline) = &self.airline {
            self.network.links[airline.restrictor].opening = Opening::Fixed(0.0);
        }
    }

    /// Takes the air off and lets hose and cylinder empty.
    pub fn vent(&mut self) {
        self.direct_air(Stage::Shut);
        if let Some(airline) = &self.airline {
            self.network.links[airline.way].opening = airline.open;
            self.network.links[airline.vent].opening = Opening::Fixed(VENT);
        }
    }

    /// Nobody holds the crank any more: the air turns it as far off the top (rad) as it stands.
    pub fn let_go(&mut self, off_the_top: f64) {
        if let Some(airline) = &mut self.airline {
            airline.held = false;
            self.turn_to(off_the_top);
        }
    }

    /// Turns the crank by hand to this angle (rad) from the firing top of the cylinder under test.
    fn turn_to(&mut self, angle: f64) {
        super::network::set_crank(&mut self.state, angle - self.layout.phase, 0.0);
    }

    /// The supply's pressure, for the step (s) to come.
    pub(super) fn feed_air(&mut self, step: f64) {
        let Some(airline) = &mut self.airline else {
            return;
        };
        let network = &self.network;
        let pressure = network.ambient.pressure + airline.gauge(self.time, step);
        let kelvin = network.ambient.kelvin;
        let mass = pressure * TANK / (network.air.gas_constant() * kelvin);
        let energy = mass * network.air.internal_energy(kelvin);
        set_content(&mut self.state, airline.tank, mass, energy);
    }
}

pub(super) fn check(supply: &AirSupply) -> Result<(), SimulateError> {
    let bounds = [
        ("air.supply_kpa", supply.supply_kpa, 50.0, 1500.0),
        ("air.wobble", supply.wobble, 0.0, 0.3),
        ("air.cycle_s", supply.cycle_s, 1.0, 1e4),
        ("air.noise", supply.noise, 0.0, 0.1),
        ("air.restrictor_mm", supply.restrictor_mm, 0.1, 5.0),
        ("air.coefficient", supply.coefficient, 0.3, 1.0),
        ("air.hose_cm3", supply.hose_cm3, 1.0, 1000.0),
    ];
    for (field, value, low, high) in bounds {
        if !(low..=high).contains(&value) {
            let why = format!("{value} is not between {low} and {high}");
            return Err(SimulateError::impossible(field, why));
        }
    }
    Ok(())
}

/// A cylinder with an air line, and the sensor that is read.
#[derive(Clone, Debug)]
pub struct AirBench {
    /// The engine and the air line.
    pub machine: Machine,
    sampler: Sampler,
}

impl AirBench {
    /// The air off.
    ///
    /// # Errors
    /// When the description is impossible; the error names the field.
    pub fn new(spec: &RunSpec, supply: &AirSupply) -> Result<Self, SimulateError> {
        Ok(Self {
            machine: Machine::with_air(spec, supply)?,
            sampler: Sampler::new(spec.sensor, Draws::new(spec.seed, 2)),
        })
    }

    /// Lets time pass until this time (s); what the sensor gives is added to `samples`.
    ///
    /// # Errors
    /// When the result is no number any more.
    pub fn run_to(&mut self, until: f64, samples: &mut Vec<Sample>) -> Result<(), SimulateError> {
        while self.machine.time() < until {
            let moment: Moment = self.machine.advance()?;
            let gauge = moment.tester - self.machine.ambient();
            self.sampler.feed(moment.time, gauge, samples);
        }
        Ok(())
    }
}
