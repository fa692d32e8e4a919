//! Volumes of gas, the openings between them, and the crank: the right-hand side of the
//! differential equations.
//!
//! Each volume is one zone: uniform, its state is its mass and its internal energy. That makes
//! the balances of mass and energy exact whatever the temperature is.

use super::air::Air;
use super::chebyshev::Schemes;
use super::derived::{Chamber, Derived, Gas, Place};
use super::geometry::{Port, Slider, Valve, wrap};
use super::orifice::Expansion;
use super::surroundings::{Ambient, OPEN_AIR, VOLUMES};
use super::wall;
use std::f64::consts::PI;

const ANGLE: usize = 0;
pub(super) const SPEED: usize = 1;
const HEAT_OUT: usize = 2;
const WORK_OUT: usize = 3;
const CONTENT: usize = 4;
/// Speed (rad/s) around which dry friction turns over.
pub(super) const CREEP: f64 = 0.5;
/// The unknowns: crank angle (rad) and speed (rad/s), heat lost (J) and work done (J) by all
/// volumes together, then mass (kg) and energy (J) of each volume; those of the surroundings are
/// counted from the start.
pub(super) type Unknowns = [f64; CONTENT + 2 * VOLUMES];

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
    /// The crank or a piston, as the [`Timed`] with this index says.
    Timed(usize),
    /// Lets gas through one way: nothing up to `cracking` (Pa), all of `area` (m²) from
    /// `cracking + band` on.
    Check { area: f64, cracking: f64, band: f64 },
}

/// What lets gas through at certain places of a piston.
#[derive(Clone, Copy, Debug)]
pub(super) struct Timed {
    pub(super) timing: Timing,
    /// Index of the cylinder with that piston.
    pub(super) cylinder: usize,
}

/// How an opening follows the crank.
#[derive(Clone, Copy, Debug)]
pub(super) enum Timing {
    /// A valve, in series with another opening of this effective area in m².
    Valve(Valve, f64),
    /// A port.
    Port(Port),
}

impl Timing {
    /// Area in m² with the piston at a place; `cycle` is the angle of one working cycle in rad.
    #[inline]
    pub(super) fn area(&self, place: &Place, cycle: f64) -> f64 {
        match self {
            Self::Valve(valve, other) => {
                let area = valve.area_at(wrap(place.angle, cycle));
                if area == 0.0 {
                    return area;
                }
                in_series(area, *other)
            }
            Self::Port(port) => port.area_at(place.travel),
        }
    }
}

/// An opening between two volumes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Link {
    pub(super) from: usize,
    pub(super) to: usize,
    pub(super) opening: Opening,
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

/// All volumes, openings and the crank.
#[derive(Clone, Debug)]
pub(super) struct Network {
    pub(super) air: Air,
    pub(super) ambient: Ambient,
    pub(super) slider: Slider,
    pub(super) bore: f64,
    /// Crank angle of one working cycle in rad.
    pub(super) cycle: f64,
    /// All volumes, the surroundings first.
    pub(super) zones: Vec<Zone>,
    pub(super) links: Vec<Link>,
    /// Valves and ports.
    pub(super) timed: Vec<Timed>,
    pub(super) shaft: Shaft,
    pub(super) schemes: Schemes,
}

impl Network {
    /// Nothing known yet but the surroundings.
    pub(super) fn derived(&self) -> Derived {
        Derived::new(&self.ambient, &self.air, self.timed.len())
    }

    /// How many volumes there are, with the surroundings.
    fn count(&self) -> usize {
        self.zones.len().min(VOLUMES)
    }

    /// How many unknowns there are.
    pub(super) fn unknowns(&self) -> usize {
        CONTENT + 2 * self.count()
    }

    /// Rates of change of all unknowns; also the state of each volume.
    pub(super) fn rates(&self, x: &Unknowns, derived: &mut Derived) -> Unknowns {
        let mut rate = Unknowns::default();
        let torque = self.gas_state(x, derived);
        self.flows(derived, &mut rate);
        self.losses(x[SPEED], derived, &mut rate);
        let speed = x[SPEED];
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

    /// Puts pistons, valves and ports where they are at an angle of the crank (rad).
    fn turn(&self, angle: f64, derived: &mut Derived) {
        if derived.angle == angle {
            return;
        }
        derived.angle = angle;
        for (zone, place) in self.zones.iter().zip(&mut derived.places) {
            if let Volume::Cylinder { phase, .. } = zone.volume {
                *place = Place::new(angle + phase, &self.slider);
            }
        }
        for (timed, area) in self.timed.iter().zip(&mut derived.areas) {
            *area = timed
                .timing
                .area(&derived.places[timed.cylinder], self.cycle);
        }
    }

    /// Fills in the state of each volume; returns the torque of the gas on the crank in N m.
    #[inline]
    pub(super) fn gas_state(&self, x: &Unknowns, derived: &mut Derived) -> f64 {
        self.turn(x[ANGLE], derived);
        let r = self.air.gas_constant();
        let area = self.slider.area;
        let mut torque = 0.0;
        for i in OPEN_AIR + 1..self.count() {
            let (volume, slope) = match self.zones[i].volume {
                Volume::Fixed(volume) => (volume, 0.0),
                Volume::Cylinder { clearance, .. } => {
                    let place = &derived.places[i];
                    (clearance + area * place.travel, area * place.slope)
                }
                Volume::Crankcase { cylinder, at_top } => {
                    let above = &derived.places[cylinder];
                    (at_top - area * above.travel, -(area * above.slope))
                }
            };
            let mass = x[CONTENT + 2 * i];
            let energy = x[CONTENT + 2 * i + 1] / mass;
            let kelvin = self.air.temperature(energy, &derived.tangents[i]);
            let pressure = mass * r * kelvin / volume;
            torque += (pressure - self.ambient.pressure) * slope;
            let rt = r * kelvin;
            derived.gas[i] = Gas {
                pressure,
                kelvin,
                volume,
                slope,
                rt,
                enthalpy: energy + rt,
            };
        }
        torque
    }

    fn flows(&self, derived: &mut Derived, rate: &mut Unknowns) {
        for link in &self.links {
            let mut area = match link.opening {
                Opening::Fixed(area) | Opening::Hose { area, .. } | Opening::Check { area, .. } => {
                    area
                }
                Opening::Timed(which) => derived.areas[which],
            };
            if area <= 0.0 {
                continue;
            }
            let (from, to) = (&derived.gas[link.from], &derived.gas[link.to]);
            let drop = from.pressure - to.pressure;
            if let Opening::Check { cracking, band, .. } = link.opening {
                let beyond = drop - cracking;
                if beyond <= 0.0 {
                    continue;
                }
                area *= (beyond / band).min(1.0);
            }
            let (up, down, sign) = if drop >= 0.0 {
                (link.from, to.pressure, 1.0)
            } else {
                (link.to, from.pressure, -1.0)
            };
            let expansion = &mut derived.expansions[up];
            let up = &derived.gas[up];
            if expansion.0 != up.kelvin {
                *expansion = (up.kelvin, Expansion::new(self.air.gamma(up.kelvin)));
            }
            let mut flow = sign * expansion.1.mass_flow(area, up.pressure, up.rt, down);
            if let Opening::Hose { area, slope } = link.opening {
                let most = slope * area * drop.abs() / up.rt.sqrt();
                if flow.abs() > most {
                    flow = sign * most;
                }
            }
            let carried = flow * up.enthalpy;
            let (from, to) = (CONTENT + 2 * link.from, CONTENT + 2 * link.to);
            rate[from] -= flow;
            rate[from + 1] -= carried;
            rate[to] += flow;
            rate[to + 1] += carried;
        }
    }

    /// Heat to the walls and work on the pistons.
    fn losses(&self, speed: f64, derived: &mut Derived, rate: &mut Unknowns) {
        let piston_speed = 2.0 * self.slider.throw * speed.abs() / PI;
        for i in OPEN_AIR + 1..self.count() {
            let (zone, g) = (&self.zones[i], &derived.gas[i]);
            let conductance = match zone.wall {
                Wall::Conductance(conductance) => conductance,
                Wall::Cylinder(0.0) => 0.0,
                Wall::Cylinder(factor) => {
                    let chamber = &mut derived.chambers[i];
                    if chamber.volume != g.volume {
                        *chamber = Chamber::new(g.volume, self.slider.area, self.bore);
                    }
                    let log_volume = chamber.log_volume;
                    factor
                        * chamber.surface
                        * wall::coefficient(log_volume, g.pressure, g.kelvin, piston_speed)
                }
            };
            let heat = conductance * (g.kelvin - zone.wall_kelvin);
            let work = g.pressure * g.slope * speed;
            let energy = &mut rate[CONTENT + 2 * i + 1];
            *energy = *energy - heat - work;
            rate[HEAT_OUT] += heat;
            rate[WORK_OUT] += work;
        }
    }

    /// Finds the next temperatures from the present ones.
    pub(super) fn keep_temperatures(&self, derived: &mut Derived) {
        for i in OPEN_AIR + 1..self.count() {
            derived.tangents[i] = self.air.tangent(derived.gas[i].kelvin);
        }
    }
}

/// Effective area of two openings one behind the other; the second may be infinite.
#[inline]
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
    (x[CONTENT + 2 * zone], x[CONTENT + 2 * zone + 1])
}

/// Sets mass (kg) and energy (J) of a volume.
pub(super) fn set_content(x: &mut Unknowns, zone: usize, mass: f64, energy: f64) {
    x[CONTENT + 2 * zone] = mass;
    x[CONTENT + 2 * zone + 1] = energy;
}

/// What crossed the boundary so far.
pub(super) fn ledger(x: &Unknowns) -> Ledger {
    let (mass, energy) = content(x, OPEN_AIR);
    Ledger {
        mass_in: 0.0 - mass,
        enthalpy_in: 0.0 - energy,
        heat_out: x[HEAT_OUT],
        work_out: x[WORK_OUT],
    }
}
