//! Engines of the population: families of usual proportions, drawn a little different each time.

use crate::assess::CauseKind;
use crate::engine::expected::{CHARGE, TightModel, usual_crank};
use crate::engine::stroke::Compression;
use crate::engine::{
    Condition, Cycle, CylinderSpec, Display, EngineSpec, Geometry, Ignition, JobCard, Start,
};
use crate::simulate::{Bursts, Cylinder, Draws, Engine, Family, Turning};
use crate::units::Pressure;

/// Kinds of engines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// One of the simulator's families.
    Family(Family),
    /// Four cylinders in a row, electric start.
    Four,
}

impl Kind {
    pub(super) fn drawn(draws: &mut Draws) -> Self {
        match draws.unit() {
            x if x < 0.14 => Self::Family(Family::Moped),
            x if x < 0.24 => Self::Family(Family::TrashPump),
            x if x < 0.38 => Self::Family(Family::Utility),
            x if x < 0.55 => Self::Family(Family::Twin),
            x if x < 0.66 => Self::Family(Family::LightingSet),
            x if x < 0.84 => Self::Family(Family::Irrigation),
            _ => Self::Four,
        }
    }

    fn base(self) -> (Engine, Turning) {
        match self {
            Self::Family(family) => (family.engine(), family.turning()),
            Self::Four => {
                let mut engine = Family::Irrigation.engine();
                engine.bore_mm = 72.0;
                engine.stroke_mm = 80.0;
                engine.rod_mm = 140.0;
                engine.throttle_mm2 = 320.0;
                engine.manifold_cm3 = 320.0;
                if let Some(valves) = &mut engine.valves {
                    valves.intake_mm2 = 360.0;
                    valves.exhaust_mm2 = 310.0;
                }
                engine.cylinders = [0.0, 540.0, 180.0, 360.0]
                    .iter()
                    .enumerate()
                    .map(|(at, fires_deg)| Cylinder {
                        name: (at + 1).to_string(),
                        fires_deg: *fires_deg,
                        ..Cylinder::default()
                    })
                    .collect();
                let turning = Turning::Electric {
                    stall_nm: 130.0,
                    free_rpm: 380.0,
                    battery: 1.0,
                };
                (engine, turning)
            }
        }
    }
}

/// An engine as it was made, and the card that its owner fills in.
#[derive(Clone, Debug)]
pub(super) struct Made {
    pub engine: Engine,
    pub turning: Turning,
    pub card: JobCard,
    pub heat_factor: f64,
}

impl Made {
    pub(super) fn new(kind: Kind, draws: &mut Draws) -> Self {
        let (mut engine, mut turning) = kind.base();
        let before = engine.bore_mm * engine.bore_mm * engine.stroke_mm;
        engine.bore_mm *= draws.between(0.93, 1.07);
        let longer = draws.between(0.93, 1.07);
        engine.stroke_mm *= longer;
        engine.rod_mm *= longer;
        engine.compression_ratio += draws.between(-0.8, 0.8);
        if let Some(valves) = &mut engine.valves {
            valves.intake_closes_abdc += 6.0 * draws.normal();
        }
        let larger = engine.bore_mm * engine.bore_mm * engine.stroke_mm / before;
        turning = stronger(turning, larger);
        let card = card(kind, &engine, &turning, draws);
        Self {
            engine,
            turning,
            card,
            heat_factor: draws.between(0.8, 1.25),
        }
    }

    /// Whether an engine like this can have a fault.
    pub(super) fn can_have(&self, cause: CauseKind) -> bool {
        let two_stroke = self.card.engine.cycle == Cycle::TwoStroke;
        match cause {
            CauseKind::Valve | CauseKind::ValveTiming => !two_stroke,
            CauseKind::Gasket => self.card.cylinders.iter().any(|c| !c.neighbours.is_empty()),
            _ => true,
        }
    }

    pub(super) fn swept_cm3(&self) -> f64 {
        core::f64::consts::FRAC_PI_4
            * self.engine.bore_mm
            * self.engine.bore_mm
            * self.engine.stroke_mm
            / 1e3
    }

    pub(super) fn clearance_cm3(&self) -> f64 {
        self.swept_cm3() / (self.engine.compression_ratio - 1.0)
    }

    /// Oil for a wet run: a tenth of the clearance, 6 cm³ at most.
    pub(super) fn oil_cm3(&self) -> f64 {
        self.card
            .tester
            .as_ref()
            .and_then(|tester| tester.wet_oil_cm3)
            .unwrap_or_else(|| usual_oil(self.clearance_cm3()))
    }

    /// The leak at which a cylinder should read a share lower than it does with its own.
    pub(super) fn leak_for_drop(&self, at: usize, drop: f64) -> f64 {
        let own = self.engine.cylinders[at].ring_leak_mm2;
        let tight = self.compression();
        let wanted = tight.peak(own) * (1.0 - drop);
        tight.leak_mm2(wanted).unwrap_or(own).max(own)
    }

    /// Makes whoever turns it weaker.
    pub(super) fn slow_down(&mut self, factor: f64) {
        self.turning = scaled(self.turning, factor);
    }

    /// The cylinder as it is, not as the card has it.
    pub(super) fn compression(&self) -> Compression {
        let spec = EngineSpec {
            closes_deg_abdc: Some(closes(&self.engine)),
            compression_ratio: Some(self.engine.compression_ratio),
            ..self.card.engine.clone()
        };
        let fallback = Geometry {
            swept_m3: self.swept_cm3() / 1e6,
            ratio: self.engine.compression_ratio,
            rod_ratio: 3.5,
            closes_deg_abdc: closes(&self.engine),
            ports: self.engine.ports.is_some(),
            closing_known: true,
            dead_m3: 0.0,
            oil_m3: 0.0,
        };
        let geometry = Geometry::of(&spec).unwrap_or(fallback);
        let crank = usual_crank(self.card.engine.start);
        Compression {
            geometry,
            start_absolute: Pressure::ATMOSPHERE,
            ambient_absolute: Pressure::ATMOSPHERE,
            start: CHARGE,
            exponent: TightModel::shipped().exponent(&geometry, crank, Condition::WarmDry),
            crank,
        }
    }
}

/// When compression begins, degrees after bottom dead centre.
fn closes(engine: &Engine) -> f64 {
    match (&engine.valves, &engine.ports) {
        (Some(valves), _) => valves.intake_closes_abdc,
        (None, Some(ports)) => 180.0 - ports.exhaust_opens_atdc,
        (None, None) => 50.0,
    }
}

fn usual_oil(clearance_cm3: f64) -> f64 {
    ((clearance_cm3 / 10.0).min(6.0) * 10.0).round() / 10.0
}

/// The card as an owner fills it in: geometry from the manual, a ratio within 1.5 %, the timing
/// in three cases of five.
fn card(kind: Kind, engine: &Engine, turning: &Turning, draws: &mut Draws) -> JobCard {
    let row = kind != Kind::Family(Family::LightingSet);
    let names: Vec<String> = engine.cylinders.iter().map(|c| c.name.clone()).collect();
    let beside = |at: usize| -> Vec<String> {
        let before = at.checked_sub(1).and_then(|n| names.get(n));
        let after = names.get(at + 1);
        before
            .into_iter()
            .chain(after)
            .filter(|_| row)
            .cloned()
            .collect()
    };
    let swept = core::f64::consts::FRAC_PI_4 * engine.bore_mm * engine.bore_mm * engine.stroke_mm;
    let oil = usual_oil(swept / 1e3 / (engine.compression_ratio - 1.0));
    let timing = draws.chance(0.6);
    let timing_error = 3.0 * draws.normal();
    JobCard {
        format: "needlerest-card".to_owned(),
        version: 1,
        engine: EngineSpec {
            label: "simulated".to_owned(),
            cycle: engine.cycle,
            ignition: Ignition::Spark,
            bore_mm: Some(engine.bore_mm),
            stroke_mm: Some(engine.stroke_mm),
            rod_mm: draws.chance(0.5).then_some(engine.rod_mm),
            compression_ratio: Some(engine.compression_ratio * (1.0 + 0.015 * draws.normal())),
            closes_deg_abdc: timing.then(|| closes(engine) + timing_error),
            start: Some(match turning {
                Turning::Electric { .. } | Turning::Steady { .. } => Start::Electric,
                Turning::Kick(_) => Start::Kick,
                Turning::PullCord(_) => Start::PullCord,
                Turning::HandCrank { .. } => Start::HandCrank,
            }),
            fuel: None,
            decompressor: None,
        },
        cylinders: names
            .iter()
            .enumerate()
            .map(|(at, name)| CylinderSpec {
                name: name.clone(),
                neighbours: beside(at),
            })
            .collect(),
        limits: None,
        site: None,
        tester: Some(crate::engine::Tester {
            wet_oil_cm3: Some(oil),
            ..crate::engine::Tester::default()
        }),
        checked: None,
        costs: None,
        display: Display::default(),
    }
}

/// Torque for a larger engine.
fn stronger(turning: Turning, by: f64) -> Turning {
    match turning {
        Turning::Electric {
            stall_nm,
            free_rpm,
            battery,
        } => Turning::Electric {
            stall_nm: stall_nm * by,
            free_rpm,
            battery,
        },
        Turning::Kick(b) => Turning::Kick(Bursts {
            torque_nm: b.torque_nm * by,
            ..b
        }),
        Turning::PullCord(b) => Turning::PullCord(Bursts {
            torque_nm: b.torque_nm * by,
            ..b
        }),
        Turning::HandCrank {
            torque_nm,
            free_rpm,
            variation,
        } => Turning::HandCrank {
            torque_nm: torque_nm * by,
            free_rpm,
            variation,
        },
        Turning::Steady { rpm } => Turning::Steady { rpm },
    }
}

/// The same, turned at about this share of the speed.
pub(super) fn scaled(turning: Turning, factor: f64) -> Turning {
    match turning {
        Turning::Electric {
            stall_nm,
            free_rpm,
            battery,
        } => Turning::Electric {
            stall_nm,
            free_rpm,
            battery: battery * factor,
        },
        Turning::Kick(b) => Turning::Kick(slower(b, factor)),
        Turning::PullCord(b) => Turning::PullCord(slower(b, factor)),
        Turning::HandCrank {
            torque_nm,
            free_rpm,
            variation,
        } => Turning::HandCrank {
            torque_nm,
            free_rpm: free_rpm * factor,
            variation,
        },
        Turning::Steady { rpm } => Turning::Steady { rpm: rpm * factor },
    }
}

fn slower(bursts: Bursts, factor: f64) -> Bursts {
    Bursts {
        free_rpm: bursts.free_rpm * factor,
        ..bursts
    }
}
