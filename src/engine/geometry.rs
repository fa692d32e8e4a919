//! Volumes of a cylinder over the crank angle.
//!
//! Crank and slider (Heywood, *Internal Combustion Engine Fundamentals*, eq. 2.6).

use super::{Cycle, EngineSpec};

/// Rod length over crank throw where the card does not give the rod.
const USUAL_ROD_RATIO: f64 = 3.5;
/// Intake valve closing of ordinary four-strokes, degrees after bottom dead centre.
const USUAL_CLOSING_FOUR_STROKE: f64 = 50.0;
/// Exhaust port closing of ordinary two-strokes, degrees after bottom dead centre.
const USUAL_CLOSING_TWO_STROKE: f64 = 80.0;

/// A cylinder's geometry. Volumes in m³, angles in radians after top dead centre of compression.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Geometry {
    /// Swept volume.
    pub swept_m3: f64,
    /// Geometric compression ratio.
    pub ratio: f64,
    /// Rod length over crank throw.
    pub rod_ratio: f64,
    /// When compression begins, degrees after bottom dead centre.
    pub closes_deg_abdc: f64,
    /// Compression begins at a port in the cylinder wall, not at a valve.
    pub ports: bool,
    /// The card gave the closing angle; otherwise a usual one is taken.
    pub closing_known: bool,
    /// Volume that the tester adds to the chamber.
    pub dead_m3: f64,
    /// Volume that oil takes from the chamber.
    pub oil_m3: f64,
}

impl Geometry {
    /// From the card; none unless bore, stroke and compression ratio are there.
    pub fn of(engine: &EngineSpec) -> Option<Self> {
        let bore = engine.bore_mm? / 1e3;
        let stroke = engine.stroke_mm? / 1e3;
        let usual = match engine.cycle {
            Cycle::FourStroke => USUAL_CLOSING_FOUR_STROKE,
            Cycle::TwoStroke => USUAL_CLOSING_TWO_STROKE,
        };
        Some(Self {
            swept_m3: core::f64::consts::FRAC_PI_4 * bore * bore * stroke,
            ratio: engine.compression_ratio?,
            rod_ratio: engine
                .rod_mm
                .map_or(USUAL_ROD_RATIO, |rod| 2.0 * rod / 1e3 / stroke),
            closes_deg_abdc: engine.closes_deg_abdc.unwrap_or(usual),
            ports: engine.cycle == Cycle::TwoStroke,
            closing_known: engine.closes_deg_abdc.is_some(),
            dead_m3: 0.0,
            oil_m3: 0.0,
        })
    }

    /// The same with a tester's volume (cm³) at the plug hole.
    #[must_use]
    pub fn with_dead_cm3(self, cm3: f64) -> Self {
        Self {
            dead_m3: cm3 / 1e6,
            ..self
        }
    }

    /// The same with oil (cm³) lying in the chamber. At most nine tenths of the chamber: more
    /// would lock the engine.
    #[must_use]
    pub fn with_oil_cm3(self, cm3: f64) -> Self {
        Self {
            oil_m3: (cm3 / 1e6).min(0.9 * self.clearance_m3()),
            ..self
        }
    }

    /// The same with compression beginning this many degrees later.
    #[must_use]
    pub fn closing_later(self, degrees: f64) -> Self {
        Self {
            closes_deg_abdc: self.closes_deg_abdc + degrees,
            ..self
        }
    }

    /// Volume of the bare chamber at top dead centre.
    pub fn clearance_m3(self) -> f64 {
        self.swept_m3 / (self.ratio - 1.0)
    }

    /// Volume of the gas at a crank angle (radians after top dead centre).
    pub fn volume_m3(self, angle: f64) -> f64 {
        let (sine, cosine) = libm::sincos(angle);
        let r = self.rod_ratio;
        let travel = 0.5 * (r + 1.0 - cosine - libm::sqrt(r * r - sine * sine));
        self.clearance_m3() + self.dead_m3 - self.oil_m3 + self.swept_m3 * travel
    }

    /// Crank angle at which compression begins, radians (negative: before top dead centre).
    pub fn closing_angle(self) -> f64 {
        (self.closes_deg_abdc - 180.0).to_radians()
    }

    /// What is really compressed: volume at closing over volume at top dead centre.
    pub fn effective_ratio(self) -> f64 {
        self.volume_m3(self.closing_angle()) / self.volume_m3(0.0)
    }
}
