//! Volumes of gas, the openings between them, and the crank: the right-hand side of the
//! differential equations.
//!
//! Each volume is one zone: uniform, its state is its mass and its internal energy. That makes
//! the balances of mass and energy exact whatever the temperature is.

use super::air::Air;
use super::chebyshev::Schemes;
use super::geometry::{Port, Slider, Valve, wrap};
use super::orifice::{Upstream, mass_flow};
use super::wall;
use std::f64::consts::PI;

/// Most volumes a network can have.
pub(super) const ZONES: usize = 8;
const ANGLE: usize = 0;
pub(super) const SPEED: usize = 1;
const LEDGER: usize = 2;
pub(super) const FIRST: usize = 6;
/// Speed (rad/s) around which dry friction turns over.
pub(super) const CREEP: f64 = 0.5;
/// The unknowns: crank angle (rad) and speed (rad/s), the four sums of [`Ledger`], then mass
/// (kg) and energy (J) of each volume.
pub(super) type Unknowns = [f64; FIRST + 2 * ZONES];

/// What crossed the boundary of all volumes together since the start. With what the volumes
/// hold it closes the balances of mass and energy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ledger {
    /// Mass that came in from the surroundings, in kg.
    pub mass_in: f64,
    /// Enthalpy that came in with it, in J.
    pub enthalpy_in: f64,
    /// Heat lost to the walls, in J.
    pub heat_out: f64,
    /// Work done on the pistons, in J.
    pub work_out: f64,
}

/// How a volume changes with the crank.
#[derive(Clone, Debug)]
pub(super) enum Volume {
    /// Not at all; in m³.
    Fixed(f64),
    /// Above a piston.
    Cylinder {
        /// Added to the crank's angle; firing top dead centre is at 0.
        phase: f64,
        /// What is left at top dead centre, in m³.
        clearance: f64,
    },
    /// Below a piston.
    Crankcase {
        /// Index of the cylinder above.
        cylinder: usize,
        /// Volume with the piston at the top, in m³.
        at_top: f64,
    },
}

/// How a volume loses heat.
#[derive(Clone, Copy, Debug)]
pub(super) enum Wall {
    /// As [`wall::coefficient`] says, times a factor.
    Cylinder(f64),
    /// A constant conductance in W/K.
    Conductance(f64),
}

/// A volume of gas.
#[derive(Clone, Debug)]
pub(super) struct Zone {
    pub(super) volume: Volume,
    pub(super) wall: Wall,
    /// Temperature of its wall in K.
    pub(super) wall_kelvin: f64,
}

/// What decides the area of an opening.
#[derive(Clone, Copy, Debug)]
pub(super) enum Opening {
    /// Always this, in m².
    Fixed(f64),
    /// A hose with this bore (m²): friction in it keeps the flow below `slope` (1) times the
    /// share of pressure lost, so that a small volume at its end follows in a fraction of a
    /// millisecond and not at once.
    Hose { area: f64, slope: f64 },
    /// A valve of the cylinder with this index, in series with another opening of this
    /// effective area in m².
    Valve(Valve, usize, f64),
    /// A port of the cylinder with this index.
    Port(Port, usize),
    /// Lets gas through one way: nothing up to `cracking` (Pa), all of `area` (m²) from
    /// `cracking + band` on.
    Check { area: f64, cracking: f64, band: f64 },
}

/// An opening between two volumes; `None` is the surroundings.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    pub(super) from: Option<usize>,
    pub(super) to: Option<usize>,
    pub(super) opening: Opening,
}

/// The surroundings.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ambient {
    /// Absolute pressure in Pa.
    pub(super) pressure: f64,
    /// Temperature in K.
    pub(super) kelvin: f64,
    /// Specific enthalpy in J/kg.
    pub(super) enthalpy: f64,
}

/// What holds the crank back or drives it, apart from the gas.
#[derive(Clone, Copy, Debug)]
pub(super) enum Shaft {
    /// Speed follows from torque; `drive` is a torque in N m that falls linearly with speed to
    /// nothing at `free` (rad/s) and never brakes.
    Free {
        inertia: f64,
        friction: f64,
        drive: f64,
        free: f64,
    },
    /// The speed stays what it is.
    Fixed,
}

/// State of one volume.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Gas {
    pub(super) pressure: f64,
    pub(super) kelvin: f64,
    pub(super) volume: f64,
    /// Change of volume with crank angle, in m³/rad.
    pub(super) slope: f64,
    pub(super) gamma: f64,
    enthalpy: f64,
}

/// Where one piston is.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Place {
    pub(super) angle: f64,
    pub(super) travel: f64,
}

/// What follows from the unknowns without the openings.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Stage {
    pub(super) gas: [Gas; ZONES],
    pub(super) place: [Place; ZONES],
}

/// All volumes, openings and the crank.
#[derive(Clone, Debug)]
pub(super) struct Network {
    pub(super) air: Air,
    pub(super) ambient: Ambient,
    pub(super) slider: Slider,
    pub(super) bore: f64,
    /// Crank angle of one working cycle in rad.
    pub(super) cycle: f64,
    pub(super) zones: Vec<Zone>,
    pub(super) links: Vec<Link>,
    pub(super) shaft: Shaft,
    /// Temperatures of the last step, from which the next ones are found.
    pub(super) kelvin: [f64; ZONES],
    pub(super) schemes: Schemes,
}

impl Network {
    /// Rates of change of all unknowns; also the state of each volume.
    pub(super) fn rates(&self, x: &Unknowns, stage: &mut Stage) -> Unknowns {
        let mut rate = Unknowns::default();
        let torque = self.gas_state(x, stage);
        self.flows(stage, &mut rate);
        self.walls(x, &stage.gas, &mut rate);
        let speed = x[SPEED];
        for (i, g) in stage.gas.iter().enumerate().take(self.zones.len()) {
            let power = g.pressure * g.slope * speed;
            rate[FIRST + 2 * i + 1] -= power;
            rate[LEDGER + 3] += power;
        }
        rate[ANGLE] = speed;
        rate[SPEED] = match self.shaft {
            Shaft::Fixed => 0.0,
            Shaft::Free {
                inertia,
                friction,
                drive,
                free,
            } => (torque + pull(drive, free, speed) - drag(friction, speed)) / inertia,
        };
        rate
    }

    /// Fills in the state of each volume; returns the torque of the gas on the crank in N m.
    fn gas_state(&self, x: &Unknowns, stage: &mut Stage) -> f64 {
        let Stage { gas, place } = stage;
        let r = self.air.gas_constant();
        let mut torque = 0.0;
        for (i, zone) in self.zones.iter().enumerate() {
            let (volume, slope) = match zone.volume {
                Volume::Fixed(volume) => (volume, 0.0),
                Volume::Cylinder { phase, clearance } => {
                    let angle = x[ANGLE] + phase;
                    let (sin, cos) = libm::sincos(angle);
                    let (travel, slope) = self.slider.travel(sin, cos);
                    place[i] = Place { angle, travel };
                    (
                        clearance + self.slider.area * travel,
                        self.slider.area * slope,
                    )
                }
                Volume::Crankcase { cylinder, at_top } => {
                    let above = &gas[cylinder];
                    (
                        at_top - self.slider.area * place[cylinder].travel,
                        -above.slope,
                    )
                }
            };
            let mass = x[FIRST + 2 * i];
            let energy = x[FIRST + 2 * i + 1] / mass;
            let kelvin = self.air.temperature(energy, self.kelvin[i]);
            let pressure = mass * r * kelvin / volume;
            torque += (pressure - self.ambient.pressure) * slope;
            gas[i] = Gas {
                pressure,
                kelvin,
                volume,
                slope,
                gamma: self.air.gamma(kelvin),
                enthalpy: energy + r * kelvin,
            };
        }
        torque
    }

    #[inline]
    pub(super) fn side(&self, gas: &[Gas; ZONES], end: Option<usize>) -> (Upstream, f64) {
        let (pressure, temperature, gamma, enthalpy) = match end {
            Some(i) => (
                gas[i].pressure,
                gas[i].kelvin,
                gas[i].gamma,
                gas[i].enthalpy,
            ),
            None => (
                self.ambient.pressure,
                self.ambient.kelvin,
                1.4,
                self.ambient.enthalpy,
            ),
        };
        let upstream = Upstream {
            pressure,
            temperature,
            gamma,
            gas_constant: self.air.gas_constant(),
        };
        (upstream, enthalpy)
    }

    fn flows(&self, stage: &Stage, rate: &mut Unknowns) {
        for link in &self.links {
            let (from, from_enthalpy) = self.side(&stage.gas, link.from);
            let (to, to_enthalpy) = self.side(&stage.gas, link.to);
            let drop = from.pressure - to.pressure;
            let area = self.area(link.opening, &stage.place, drop);
            if area <= 0.0 {
                continue;
            }
            let (up, down, sign, enthalpy) = if drop >= 0.0 {
                (from, to.pressure, 1.0, from_enthalpy)
            } else {
                (to, from.pressure, -1.0, to_enthalpy)
            };
            let mut flow = sign * mass_flow(area, up, down);
            if let Opening::Hose { area, slope } = link.opening {
                let r = self.air.gas_constant();
                let most = slope * area * drop.abs() / (r * up.temperature).sqrt();
                if flow.abs() > most {
                    flow = sign * most;
                }
            }
            give(rate, link.from, -flow, -flow * enthalpy);
            give(rate, link.to, flow, flow * enthalpy);
        }
    }

    #[inline]
    pub(super) fn area(&self, opening: Opening, place: &[Place; ZONES], drop: f64) -> f64 {
        match opening {
            Opening::Fixed(area) | Opening::Hose { area, .. } => area,
            Opening::Check {
                area,
                cracking,
                band,
            } => area * ((drop - cracking) / band).clamp(0.0, 1.0),
            Opening::Valve(valve, i, other) => {
                let angle = wrap(place[i].angle, self.cycle);
                in_series(valve.area_at(angle), other)
            }
            Opening::Port(port, i) => port.area_at(place[i].travel),
        }
    }

    fn walls(&self, x: &Unknowns, gas: &[Gas; ZONES], rate: &mut Unknowns) {
        let piston_speed = 2.0 * self.slider.throw * x[SPEED].abs() / PI;
        for (i, zone) in self.zones.iter().enumerate() {
            let g = &gas[i];
            let conductance = match zone.wall {
                Wall::Conductance(conductance) => conductance,
                Wall::Cylinder(0.0) => 0.0,
                Wall::Cylinder(factor) => {
                    let height = g.volume / self.slider.area;
                    let surface = 2.0 * self.slider.area + PI * self.bore * height;
                    factor
                        * surface
                        * wall::coefficient(g.volume, g.pressure, g.kelvin, piston_speed)
                }
            };
            let loss = conductance * (g.kelvin - zone.wall_kelvin);
            rate[FIRST + 2 * i + 1] -= loss;
            rate[LEDGER + 2] += loss;
        }
    }

    /// State of the volumes at `x`.
    pub(super) fn look(&self, x: &Unknowns) -> [Gas; ZONES] {
        let mut stage = Stage::default();
        self.gas_state(x, &mut stage);
        stage.gas
    }

    pub(super) fn keep_temperatures(&mut self, stage: &Stage) {
        for (kept, g) in self.kelvin.iter_mut().zip(&stage.gas) {
            *kept = g.kelvin;
        }
    }
}

/// Effective area of two openings one behind the other; the second may be infinite.
pub(super) fn in_series(a: f64, b: f64) -> f64 {
    let ratio = a / b;
    a / (1.0 + ratio * ratio).sqrt()
}

/// Torque of a drive that falls linearly with speed and never brakes.
fn pull(drive: f64, free: f64, speed: f64) -> f64 {
    (drive * (1.0 - speed / free)).max(0.0)
}

/// Dry friction against the motion, smooth around standstill.
fn drag(friction: f64, speed: f64) -> f64 {
    friction * speed / (speed * speed + CREEP * CREEP).sqrt()
}

fn give(rate: &mut Unknowns, end: Option<usize>, mass: f64, energy: f64) {
    if let Some(i) = end {
        rate[FIRST + 2 * i] += mass;
        rate[FIRST + 2 * i + 1] += energy;
    } else {
        rate[LEDGER] -= mass;
        rate[LEDGER + 1] -= energy;
    }
}

/// Crank angle in rad.
pub(super) fn angle(x: &Unknowns) -> f64 {
    x[ANGLE]
}

/// Crank speed in rad/s.
pub(super) fn speed(x: &Unknowns) -> f64 {
    x[SPEED]
}

/// Sets crank angle (rad) and speed (rad/s).
pub(super) fn set_crank(x: &mut Unknowns, angle: f64, speed: f64) {
    x[ANGLE] = angle;
    x[SPEED] = speed;
}

/// Mass (kg) and energy (J) of a volume.
pub(super) fn content(x: &Unknowns, zone: usize) -> (f64, f64) {
    (x[FIRST + 2 * zone], x[FIRST + 2 * zone + 1])
}

/// Sets mass (kg) and energy (J) of a volume.
pub(super) fn set_content(x: &mut Unknowns, zone: usize, mass: f64, energy: f64) {
    x[FIRST + 2 * zone] = mass;
    x[FIRST + 2 * zone + 1] = energy;
}

/// What crossed the boundary so far.
pub(super) fn ledger(x: &Unknowns) -> Ledger {
    Ledger {
        mass_in: x[LEDGER],
        enthalpy_in: x[LEDGER + 1],
        heat_out: x[LEDGER + 2],
        work_out: x[LEDGER + 3],
    }
}
