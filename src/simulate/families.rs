//! Engine families for corpora: invented engines of usual proportions.

use super::spec::{Bursts, Cylinder, Engine, Ports, Turning, Valves};
use crate::engine::Cycle;

/// A family of engines and how they are turned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Family {
    /// Kick-started four-stroke moped, one cylinder of 50 cm³.
    Moped,
    /// Pull-cord two-stroke pump, one cylinder of 64 cm³.
    TrashPump,
    /// Pull-cord four-stroke utility engine, one cylinder of 196 cm³.
    Utility,
    /// Electric-start twin, 125 cm³ a cylinder.
    Twin,
    /// Hand-cranked flat twin, 354 cm³ a cylinder.
    LightingSet,
    /// Electric-start three-cylinder pump engine, 598 cm³ a cylinder.
    Irrigation,
}

impl Family {
    /// All families, from the smallest cylinder to the largest.
    pub const ALL: [Self; 6] = [
        Self::Moped,
        Self::TrashPump,
        Self::Twin,
        Self::Utility,
        Self::LightingSet,
        Self::Irrigation,
    ];

    /// As it is written in a summary.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Moped => "moped",
            Self::TrashPump => "trash-pump",
            Self::Utility => "utility",
            Self::Twin => "twin",
            Self::LightingSet => "lighting-set",
            Self::Irrigation => "irrigation",
        }
    }

    /// The sound engine of this family, without any leak.
    pub fn engine(self) -> Engine {
        match self {
            Self::Moped => four_stroke(&[0.0], [39.0, 41.4, 80.0], 9.5, [40.0, 105.0, 90.0], 0.003),
            Self::TrashPump => two_stroke(),
            Self::Utility => {
                four_stroke(&[0.0], [68.0, 54.0, 88.0], 8.5, [42.0, 260.0, 180.0], 0.012)
            }
            Self::Twin => four_stroke(
                &[0.0, 360.0],
                [52.0, 58.9, 105.0],
                9.6,
                [45.0, 190.0, 170.0],
                0.012,
            ),
            Self::LightingSet => four_stroke(
                &[0.0, 360.0],
                [78.0, 74.0, 150.0],
                6.2,
                [40.0, 320.0, 250.0],
                0.55,
            ),
            Self::Irrigation => four_stroke(
                &[0.0, 240.0, 480.0],
                [90.0, 94.0, 160.0],
                9.0,
                [50.0, 560.0, 480.0],
                0.25,
            ),
        }
    }

    /// How it is turned.
    pub const fn turning(self) -> Turning {
        match self {
            Self::Moped => Turning::Kick(bursts(15.0, 750.0, 2.6, 1.6)),
            Self::TrashPump => Turning::PullCord(bursts(11.0, 900.0, 3.2, 2.0)),
            Self::Utility => Turning::PullCord(bursts(45.0, 700.0, 3.0, 2.2)),
            Self::Twin => electric(45.0, 520.0),
            Self::LightingSet => Turning::HandCrank {
                torque_nm: 60.0,
                free_rpm: 170.0,
                variation: 0.1,
            },
            Self::Irrigation => electric(170.0, 330.0),
        }
    }
}

const fn electric(stall_nm: f64, free_rpm: f64) -> Turning {
    Turning::Electric {
        stall_nm,
        free_rpm,
        battery: 1.0,
    }
}

const fn bursts(torque_nm: f64, free_rpm: f64, turns: f64, pause_s: f64) -> Bursts {
    Bursts {
        torque_nm,
        free_rpm,
        turns,
        pause_s,
        variation: 0.12,
    }
}

fn cylinders(fires_deg: &[f64]) -> Vec<Cylinder> {
    fires_deg
        .iter()
        .enumerate()
        .map(|(i, &fires_deg)| Cylinder {
            name: (i + 1).to_string(),
            fires_deg,
            ..Cylinder::default()
        })
        .collect()
}

/// `[bore, stroke, rod]` in mm; `[intake closes, intake area, throttle area]` in degrees after
/// bottom dead centre and mm².
fn four_stroke(
    fires_deg: &[f64],
    [bore_mm, stroke_mm, rod_mm]: [f64; 3],
    compression_ratio: f64,
    [closes, intake_mm2, throttle_mm2]: [f64; 3],
    inertia_kg_m2: f64,
) -> Engine {
    let swept_cm3 = std::f64::consts::PI / 4.0 * bore_mm * bore_mm * stroke_mm * 1e-3;
    Engine {
        cycle: Cycle::FourStroke,
        bore_mm,
        stroke_mm,
        rod_mm,
        pin_offset_mm: 0.0,
        compression_ratio,
        valves: Some(Valves {
            intake_opens_btdc: 10.0,
            intake_closes_abdc: closes,
            exhaust_opens_bbdc: 45.0,
            exhaust_closes_atdc: 12.0,
            intake_mm2,
            exhaust_mm2: 0.85 * intake_mm2,
        }),
        ports: None,
        throttle_mm2,
        manifold_cm3: swept_cm3,
        inertia_kg_m2,
        friction_kpa: 70.0,
        cylinders: cylinders(fires_deg),
        gaskets: Vec::new(),
    }
}

fn two_stroke() -> Engine {
    Engine {
        cycle: Cycle::TwoStroke,
        bore_mm: 45.0,
        stroke_mm: 40.0,
        rod_mm: 76.0,
        pin_offset_mm: 0.0,
        compression_ratio: 10.5,
        valves: None,
        ports: Some(Ports {
            exhaust_opens_atdc: 102.0,
            transfer_opens_atdc: 120.0,
            exhaust_width_mm: 20.0,
            transfer_width_mm: 24.0,
            crankcase_ratio: 1.4,
            reed_mm2: 110.0,
        }),
        throttle_mm2: 130.0,
        manifold_cm3: 60.0,
        inertia_kg_m2: 0.003,
        friction_kpa: 40.0,
        cylinders: cylinders(&[0.0]),
        gaskets: Vec::new(),
    }
}
