//! Puts a machine together from its description.

use super::SimulateError;
use super::air::Air;
use super::chebyshev::Schemes;
use super::check;
use super::driver::{Driver, cold_factor};
use super::geometry::{Port, Slider, Valve, wrap};
use super::layout::{Layout, Leak};
use super::machine::Machine;
use super::network::{Link, Network, Opening, Shaft, Timed, Timing, Volume, Wall, Zone, in_series};
use super::random::Draws;
use super::shape::{clearance, companions, cycle_angle, gasket, slider};
use super::spec::{Cylinder, Engine, Gas, Ports, RunSpec};
use super::surroundings::{Ambient, OPEN_AIR};
use std::f64::consts::PI;

/// Effective area of an empty plug hole, in m².
const PLUG_HOLE: f64 = 8e-5;
/// Share of the throttle's area that is left when it is shut.
const IDLE: f64 = 0.01;
/// How fast (1/s) the pressure at the end of a hose can follow: it lags by a fifth of a
/// millisecond at least.
const FOLLOWS: f64 = 5000.0;
/// A throttle open at least this far is one resistance in series with the valve. Below, the
/// volume behind it counts.
const WIDE: f64 = 0.5;
/// Heat from manifold and crankcase to the air in them, in W/K.
const COOL_WALL: f64 = 0.3;

impl Machine {
    /// The machine at rest, all gas at ambient pressure.
    ///
    /// # Errors
    /// When the description is impossible; the error names the field.
    pub fn new(spec: &RunSpec) -> Result<Self, SimulateError> {
        check::run(spec)?;
        Ok(machine(spec))
    }
}

/// A machine from a description that has been checked.
fn machine(spec: &RunSpec) -> Machine {
    let engine = &spec.engine;
    let slider = slider(engine);
    let mut builder = Builder {
        spec,
        slider,
        zones: vec![Zone {
            volume: Volume::Fixed(f64::INFINITY),
            wall: Wall::Conductance(0.0),
            wall_kelvin: spec.surroundings.air_celsius + 273.15,
        }],
        links: Vec::new(),
        timed: Vec::new(),
    };
    let layout = builder.assemble();
    let cycle = cycle_angle(engine.cycle);
    let air = match spec.gas {
        Gas::Air => Air::dry(),
        Gas::ConstantGamma(gamma) => Air::with_constant_gamma(gamma),
    };
    let kelvin = spec.surroundings.air_celsius + 273.15;
    let ambient = Ambient {
        pressure: spec.surroundings.ambient_kpa * 1e3,
        kelvin,
        enthalpy: air.enthalpy(kelvin),
    };
    let network = Network {
        air,
        ambient,
        slider,
        bore: engine.bore_mm * 1e-3,
        cycle,
        zones: builder.zones,
        links: builder.links,
        timed: builder.timed,
        shaft: Shaft::Fixed,
        schemes: Schemes::new(),
    };
    let all = slider.swept() * engine.cylinders.len() as f64;
    let friction = engine.friction_kpa * 1e3 * cold_factor(spec.wall_celsius) * all / cycle;
    let driver = Driver::new(
        spec.turning,
        engine.inertia_kg_m2,
        friction,
        Draws::new(spec.seed, 1),
    );
    Machine::assemble(network, layout, driver, spec)
}

/// Where a cylinder breathes from.
#[derive(Clone, Copy)]
struct Intake {
    /// The manifold, or the open air.
    from: usize,
    /// Effective area of a throttle that has no volume behind it, in m².
    throttle: f64,
}

struct Builder<'a> {
    spec: &'a RunSpec,
    slider: Slider,
    zones: Vec<Zone>,
    links: Vec<Link>,
    timed: Vec<Timed>,
}

impl Builder<'_> {
    fn assemble(&mut self) -> Layout {
        let spec = self.spec;
        let engine = &spec.engine;
        let tested = engine
            .cylinders
            .iter()
            .position(|c| c.name == spec.cylinder)
            .unwrap_or(0);
        let others = companions(spec, tested);
        let first = &engine.cylinders[tested];
        let clearance = clearance(engine, first) + spec.tester.adapter_cm3 * 1e-6;
        let phase = phase(engine, tested);
        let cylinder = self.zone(
            Volume::Cylinder { phase, clearance },
            self.cylinder_wall(),
            true,
        );
        let (sensor, bleed) = self.tester(cylinder);
        let intake = self.intake(1 + others.len());
        let leak = self.breathing(cylinder, first, intake);
        for other in others {
            self.companion(other, cylinder, intake);
        }
        Layout {
            cylinder,
            sensor,
            phase,
            clearance,
            leak,
            bleed,
        }
    }

    fn cylinder_wall(&self) -> Wall {
        Wall::Cylinder(self.spec.heat_factor)
    }

    fn zone(&mut self, volume: Volume, wall: Wall, hot: bool) -> usize {
        let celsius = if hot {
            self.spec.wall_celsius
        } else {
            self.spec.surroundings.air_celsius
        };
        self.zones.push(Zone {
            volume,
            wall,
            wall_kelvin: celsius + 273.15,
        });
        self.zones.len() - 1
    }

    fn link(&mut self, from: usize, to: usize, opening: Opening) -> usize {
        self.links.push(Link { from, to, opening });
        self.links.len() - 1
    }

    fn timed(&mut self, timing: Timing, cylinder: usize) -> Opening {
        self.timed.push(Timed { timing, cylinder });
        Opening::Timed(self.timed.len() - 1)
    }

    fn leak(&mut self, from: usize, to: usize, area_mm2: f64) {
        if area_mm2 > 0.0 {
            self.link(from, to, Opening::Fixed(area_mm2 * 1e-6));
        }
    }

    /// The hose; returns where the sensor sits, and the bleed valve.
    fn tester(&mut self, cylinder: usize) -> (usize, Option<(usize, f64)>) {
        let tester = &self.spec.tester;
        let bleed_area = tester.bleed_mm2 * 1e-6;
        let hose = if tester.hose_cm3 > 0.0 {
            let hose = self.zone(
                Volume::Fixed(tester.hose_cm3 * 1e-6),
                Wall::Conductance(tester.heat_w_per_k),
                false,
            );
            let area = tester.way_mm2 * 1e-6;
            // 410 m/s is √(RT) of gas at 590 K, near the top of a stroke.
            let slope = FOLLOWS * tester.hose_cm3 * 1e-6 / (1.4 * area * 410.0);
            let bore = Opening::Hose { area, slope };
            let way = tester.check_valve.map_or(bore, |valve| {
                let cracking = valve.cracking_kpa * 1e3;
                Opening::Check {
                    area,
                    cracking,
                    band: (0.5 * cracking).max(1e3),
                }
            });
            self.link(cylinder, hose, way);
            if let Some(valve) = tester.check_valve {
                self.leak(cylinder, hose, valve.leak_mm2);
            }
            hose
        } else {
            cylinder
        };
        self.leak(hose, OPEN_AIR, tester.leak_mm2);
        let bleed = self.link(hose, OPEN_AIR, Opening::Fixed(0.0));
        (hose, Some((bleed, bleed_area)))
    }

    /// What is behind the throttle, shared by all cylinders that are looked at.
    fn intake(&mut self, cylinders: usize) -> Intake {
        let spec = self.spec;
        let share = cylinders as f64;
        let open = IDLE + (1.0 - IDLE) * spec.throttle;
        if spec.throttle >= WIDE {
            return Intake {
                from: OPEN_AIR,
                throttle: spec.engine.throttle_mm2 * open * 1e-6,
            };
        }
        let volume = spec.engine.manifold_cm3 * 1e-6 * share;
        let manifold = self.zone(Volume::Fixed(volume), Wall::Conductance(COOL_WALL), false);
        self.leak(OPEN_AIR, manifold, spec.engine.throttle_mm2 * open * share);
        Intake {
            from: manifold,
            throttle: f64::INFINITY,
        }
    }

    /// Valves or ports, and leaks; returns the leak with the rings in it.
    fn breathing(&mut self, zone: usize, cylinder: &Cylinder, intake: Intake) -> Leak {
        let engine = &self.spec.engine;
        let rings = cylinder.ring_leak_mm2 * 1e-6;
        let exhaust_leak = cylinder.exhaust_leak_mm2 * 1e-6;
        let mut intake_leak = cylinder.intake_leak_mm2 * 1e-6;
        if let Some(valves) = engine.valves {
            let late = cylinder.cam_late_deg;
            let inlet = valve(
                360.0 - valves.intake_opens_btdc + late,
                540.0 + valves.intake_closes_abdc + late,
                valves.intake_mm2,
            );
            let exhaust = valve(
                180.0 - valves.exhaust_opens_bbdc + late,
                360.0 + valves.exhaust_closes_atdc + late,
                valves.exhaust_mm2,
            );
            let inlet = self.timed(Timing::Valve(inlet, intake.throttle), zone);
            self.link(intake.from, zone, inlet);
            let exhaust = self.timed(Timing::Valve(exhaust, f64::INFINITY), zone);
            self.link(zone, OPEN_AIR, exhaust);
            if intake.from != OPEN_AIR {
                self.leak(zone, intake.from, cylinder.intake_leak_mm2);
                intake_leak = 0.0;
            }
        }
        if let Some(ports) = engine.ports {
            let under = self.crankcase(zone, ports, intake);
            self.leak(under, OPEN_AIR, cylinder.intake_leak_mm2);
            self.leak(zone, OPEN_AIR, cylinder.exhaust_leak_mm2);
            return Leak {
                link: self.link(zone, under, Opening::Fixed(rings)),
                rings,
                others: 0.0,
            };
        }
        // All that leads to the open air is one hole.
        let others = exhaust_leak + intake_leak;
        Leak {
            link: self.link(zone, OPEN_AIR, Opening::Fixed(rings + others)),
            rings,
            others,
        }
    }

    /// Crankcase, ports and reed valve of a two-stroke; returns the crankcase.
    fn crankcase(&mut self, zone: usize, ports: Ports, intake: Intake) -> usize {
        let swept = self.slider.swept();
        let volume = Volume::Crankcase {
            cylinder: zone,
            at_top: swept * ports.crankcase_ratio / (ports.crankcase_ratio - 1.0),
        };
        let crankcase = self.zone(volume, Wall::Conductance(COOL_WALL), true);
        let exhaust = self.port(ports.exhaust_opens_atdc, ports.exhaust_width_mm);
        let transfer = self.port(ports.transfer_opens_atdc, ports.transfer_width_mm);
        let exhaust = self.timed(Timing::Port(exhaust), zone);
        self.link(zone, OPEN_AIR, exhaust);
        let transfer = self.timed(Timing::Port(transfer), zone);
        self.link(crankcase, zone, transfer);
        let reed = Opening::Check {
            area: in_series(ports.reed_mm2 * 1e-6, intake.throttle),
            cracking: 200.0,
            band: 1e3,
        };
        self.link(intake.from, crankcase, reed);
        crankcase
    }

    fn port(&self, opens_atdc: f64, width_mm: f64) -> Port {
        let (sin, cos) = libm::sincos(opens_atdc.to_radians());
        Port {
            edge: self.slider.travel(sin, cos).0,
            width: width_mm * 1e-3,
        }
    }

    /// Another cylinder of the engine, coupled by the gasket, the manifold and the crank.
    fn companion(&mut self, index: usize, tested: usize, intake: Intake) {
        let engine = &self.spec.engine;
        let cylinder = &engine.cylinders[index];
        let volume = Volume::Cylinder {
            phase: phase(engine, index),
            clearance: clearance(engine, cylinder),
        };
        let zone = self.zone(volume, self.cylinder_wall(), true);
        self.breathing(zone, cylinder, intake);
        if !self.spec.plugs_in {
            self.link(zone, OPEN_AIR, Opening::Fixed(PLUG_HOLE));
        }
        self.leak(tested, zone, gasket(self.spec, index));
    }
}

fn phase(engine: &Engine, index: usize) -> f64 {
    -engine.cylinders[index].fires_deg.to_radians()
}

fn valve(opens_deg: f64, closes_deg: f64, area_mm2: f64) -> Valve {
    Valve {
        opens: wrap(opens_deg.to_radians(), 4.0 * PI),
        open_for: (closes_deg - opens_deg).to_radians(),
        area: area_mm2 * 1e-6,
    }
}
