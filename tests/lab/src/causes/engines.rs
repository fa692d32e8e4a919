//! Engines of the population: families of usual proportions, drawn a little different each time.

use super::visit::Cause;
use crate::draws::Draws;
use crate::parts::{self, swept_cm3};
use needlerest::engine::expected::{CHARGE, TightModel, usual_crank};
use needlerest::engine::stroke::Compression;
use needlerest::engine::{
    Condition, Cycle, CylinderSpec, Display, EngineSpec, Geometry, Ignition, JobCard, Start,
};
use needlerest::simulate::{Bursts, Cylinder, Engine, Family, Turning};
use needlerest::units::Pressure;

/// Kinds of engines, by how many cylinders and who turns them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    KickedSingle,
    PulledTwoStroke,
    PulledSingle,
    KickedTwin,
    CrankedTwin,
    /// So many cylinders in a row and a starter.
    Row(u8),
}

impl Kind {
    fn drawn(d: &mut Draws) -> Self {
        match d.unit() {
            x if x < 0.12 => Self::KickedSingle,
            x if x < 0.18 => Self::PulledTwoStroke,
            x if x < 0.28 => Self::PulledSingle,
            x if x < 0.48 => Self::KickedTwin,
            x if x < 0.54 => Self::CrankedTwin,
            x if x < 0.62 => Self::Row(1),
            x if x < 0.72 => Self::Row(2),
            x if x < 0.82 => Self::Row(3),
            x if x < 0.95 => Self::Row(4),
            _ => Self::Row(6),
        }
    }

    fn base(self, d: &mut Draws) -> (Engine, Turning) {
        let family = |family: Family| (family.engine(), family.turning());
        match self {
            Self::KickedSingle => family(Family::Moped),
            Self::PulledTwoStroke => family(Family::TrashPump),
            Self::PulledSingle => family(Family::Utility),
            Self::CrankedTwin => family(Family::LightingSet),
            Self::KickedTwin => {
                let mut engine = Family::Utility.engine();
                engine.cylinders = row(2);
                engine.inertia_kg_m2 *= 1.5;
                let Turning::PullCord(bursts) = Family::Utility.turning() else {
                    return family(Family::Utility);
                };
                if d.chance(0.5) {
                    (engine, Turning::Kick(bursts))
                } else {
                    (engine, Turning::PullCord(bursts))
                }
            }
            Self::Row(count) => {
                let small = d.chance(0.4);
                let kind = if small {
                    Family::Twin
                } else {
                    Family::Irrigation
                };
                let (mut engine, turning) = family(kind);
                engine.cylinders = row(count);
                (engine, turning)
            }
        }
    }
}

/// So many cylinders in a row, fired one after the other.
fn row(count: u8) -> Vec<Cylinder> {
    (0..count)
        .map(|at| Cylinder {
            name: (at + 1).to_string(),
            fires_deg: 720.0 / f64::from(count) * f64::from(at),
            ..Cylinder::default()
        })
        .collect()
}

/// An engine as it was made, and the card that its owner fills in.
#[derive(Clone, Debug)]
pub struct Made {
    pub engine: Engine,
    pub turning: Turning,
    pub card: JobCard,
    /// How fast it is usually turned beside a brisk starter, 1 at most: what an engine that is
    /// turned slowly may leak and still be called sound.
    pub pace: f64,
    pub heat_factor: f64,
}

impl Made {
    pub fn new(d: &mut Draws) -> Self {
        let kind = Kind::drawn(d);
        let (mut engine, mut turning) = kind.base(d);
        let before = swept_cm3(&engine);
        let wider = d.decades(0.85, 1.15);
        let longer = wider * d.between(0.88, 1.12);
        engine.bore_mm *= wider;
        engine.stroke_mm *= longer;
        engine.rod_mm *= longer;
        engine.compression_ratio *= d.between(0.75, 1.1);
        engine.friction_kpa *= d.between(0.8, 1.2);
        engine.manifold_cm3 *= d.decades(0.5, 4.0);
        if let Some(valves) = &mut engine.valves {
            valves.intake_closes_abdc += d.between(-5.0, 25.0);
        }
        let larger = swept_cm3(&engine) / before;
        engine.throttle_mm2 *= larger;
        engine.inertia_kg_m2 *= larger;
        turning = with(parts::vary(d, turning, 1.0), larger, 1.0);
        // Starters of all sorts: from a slow one on a cold morning to a brisk one.
        let pace = match turning {
            Turning::Electric { .. } => d.decades(0.55, 1.05),
            _ => 1.0,
        };
        turning = scaled(turning, pace);
        let card = card(kind != Kind::CrankedTwin, &engine, &turning, d);
        Self {
            engine,
            turning,
            card,
            pace: pace.min(1.0) * usual_pace(&turning),
            heat_factor: d.decades(0.6, 1.6),
        }
    }

    /// Whether an engine like this can have a fault.
    pub fn can_have(&self, cause: Cause) -> bool {
        let two_stroke = self.card.engine.cycle == Cycle::TwoStroke;
        match cause {
            Cause::Valve | Cause::Timing => !two_stroke,
            Cause::Gasket => self.card.cylinders.iter().any(|c| !c.neighbours.is_empty()),
            _ => true,
        }
    }

    pub fn clearance_cm3(&self) -> f64 {
        swept_cm3(&self.engine) / (self.engine.compression_ratio - 1.0)
    }

    /// The leak at which a cylinder should read a share lower than it does with its own.
    pub fn leak_for_drop(&self, at: usize, drop: f64) -> f64 {
        let own = self.engine.cylinders[at].ring_leak_mm2;
        let tight = self.compression();
        let wanted = tight.peak(own) * (1.0 - drop);
        tight.leak_mm2(wanted).unwrap_or(own).max(own)
    }

    /// The cylinder as it is, not as the card has it.
    fn compression(&self) -> Compression {
        let geometry = geometry(&self.engine);
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

const fn usual_pace(turning: &Turning) -> f64 {
    match turning {
        Turning::HandCrank { .. } => 0.6,
        _ => 1.0,
    }
}

/// The geometry of a cylinder as it is.
pub fn geometry(engine: &Engine) -> Geometry {
    Geometry {
        swept_m3: swept_cm3(engine) / 1e6,
        ratio: engine.compression_ratio,
        rod_ratio: 2.0 * engine.rod_mm / engine.stroke_mm,
        closes_deg_abdc: closes(engine),
        ports: engine.ports.is_some(),
        closing_known: true,
        dead_m3: 0.0,
        oil_m3: 0.0,
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

/// The card as an owner fills it in: geometry from the manual, a ratio within 1.5 %, the timing
/// in three cases of five.
fn card(in_a_row: bool, engine: &Engine, turning: &Turning, d: &mut Draws) -> JobCard {
    let names: Vec<String> = engine.cylinders.iter().map(|c| c.name.clone()).collect();
    let beside = |at: usize| -> Vec<String> {
        let before = at.checked_sub(1).and_then(|n| names.get(n));
        let both = before.into_iter().chain(names.get(at + 1));
        both.filter(|_| in_a_row).cloned().collect()
    };
    let clearance = swept_cm3(engine) / (engine.compression_ratio - 1.0);
    let timing = d.chance(0.6);
    let timing_error = 3.0 * d.normal();
    JobCard {
        format: "needlerest-card".to_owned(),
        version: 1,
        engine: EngineSpec {
            label: "simulated".to_owned(),
            cycle: engine.cycle,
            ignition: Ignition::Spark,
            bore_mm: Some(engine.bore_mm),
            stroke_mm: Some(engine.stroke_mm),
            rod_mm: d.chance(0.5).then_some(engine.rod_mm),
            compression_ratio: Some(engine.compression_ratio * (1.0 + 0.015 * d.normal())),
            closes_deg_abdc: timing.then(|| closes(engine) + timing_error),
            start: Some(match turning {
                Turning::Electric { .. } | Turning::Steady { .. } => Start::Electric,
                Turning::Kick(_) => Start::Kick,
                Turning::PullCord(_) => Start::PullCord,
                Turning::HandCrank { .. } => Start::HandCrank,
            }),
            fuel: None,
            decompressor: None,
            cooling: None,
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
        tester: Some(needlerest::engine::Tester {
            // A tenth of the clearance, 5 cm³ at most.
            wet_oil_cm3: Some(((clearance / 10.0).min(5.0) * 10.0).round() / 10.0),
            ..needlerest::engine::Tester::default()
        }),
        checked: None,
        costs: None,
        display: Display::default(),
    }
}

/// The same, turned at about this share of the speed.
pub fn scaled(turning: Turning, factor: f64) -> Turning {
    with(turning, 1.0, factor)
}

/// With so many times the torque, at so many times the speed.
fn with(turning: Turning, torque: f64, speed: f64) -> Turning {
    let bursts = |b: Bursts| Bursts {
        torque_nm: b.torque_nm * torque,
        free_rpm: b.free_rpm * speed,
        ..b
    };
    match turning {
        Turning::Electric {
            stall_nm,
            free_rpm,
            battery,
        } => Turning::Electric {
            stall_nm: stall_nm * torque,
            free_rpm: free_rpm * speed,
            battery,
        },
        Turning::Kick(b) => Turning::Kick(bursts(b)),
        Turning::PullCord(b) => Turning::PullCord(bursts(b)),
        Turning::HandCrank {
            torque_nm,
            free_rpm,
            variation,
        } => Turning::HandCrank {
            torque_nm: torque_nm * torque,
            free_rpm: free_rpm * speed,
            variation,
        },
        Turning::Steady { rpm } => Turning::Steady { rpm: rpm * speed },
    }
}
