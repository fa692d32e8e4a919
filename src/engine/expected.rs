//! What a healthy cylinder of this engine should read here, with how sure that is.

use super::stroke::{Compression, peaks};
use super::{Ambient, Condition, Cycle, EngineKind, Geometry, JobCard, Start};
use crate::units::{Pressure, Rate, Temperature};
use serde::{Deserialize, Serialize};
use std::sync::LazyLock;

/// Temperature of the charge when compression begins.
pub const CHARGE: Temperature = Temperature::from_kelvin(293.15);
/// How well a compression ratio on a card is known: standard deviation as a share of it.
pub const RATIO_DOUBT: f64 = 0.015;
/// How well an assumed closing angle is known: standard deviation in degrees.
const CLOSING_DOUBT_DEG: f64 = 8.0;
/// How well a closing angle on a card is known: standard deviation in degrees.
const STATED_CLOSING_DOUBT_DEG: f64 = 3.0;
/// How well an assumed crank speed is known: standard deviation of its logarithm.
const SPEED_DOUBT: f64 = 0.3;

/// Coefficients of the tight cylinder; see the file for their meaning.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TightModel {
    /// Exponent at 200 rpm, 300 cm³, effective ratio 8, cold.
    pub base: f64,
    /// Change of the exponent with the logarithm of crank speed.
    pub per_ln_speed: f64,
    /// Change of the exponent with the logarithm of swept volume.
    pub per_ln_volume: f64,
    /// Change of the exponent with the logarithm of the effective ratio.
    pub per_ln_ratio: f64,
    /// Change of the exponent at working temperature.
    pub warm: f64,
    /// Change of the exponent where compression begins at a port (two-stroke).
    pub ports: f64,
    /// Standard deviation of the exponent about the fit.
    pub residual: f64,
    /// Effective leak of a healthy cylinder, mm² per mm of bore.
    pub healthy_leak_mm2_per_mm: f64,
    /// Its relative standard deviation between healthy cylinders.
    pub healthy_leak_spread: f64,
    /// The command that fitted it.
    pub made_by: String,
}

impl TightModel {
    /// The coefficients that ship.
    pub fn shipped() -> &'static Self {
        static MODEL: LazyLock<TightModel> =
            LazyLock::new(|| toml::from_str(include_str!("tight.toml")).unwrap_or_default());
        &MODEL
    }

    /// Polytropic exponent of a tight cylinder.
    pub fn exponent(&self, geometry: &Geometry, crank: Rate, condition: Condition) -> f64 {
        let speed = libm::log(crank.per_min().max(1.0) / 200.0);
        let volume = libm::log(geometry.swept_m3 * 1e6 / 300.0);
        let ratio = libm::log(geometry.effective_ratio().max(1.0) / 8.0);
        let warm = match condition {
            Condition::ColdDry => 0.0,
            Condition::WarmDry | Condition::Wet => self.warm,
        };
        let ports = if geometry.ports { self.ports } else { 0.0 };
        self.base
            + self.per_ln_speed * speed
            + self.per_ln_volume * volume
            + self.per_ln_ratio * ratio
            + warm
            + ports
    }
}

impl Default for TightModel {
    /// 1.30 ± 0.05 (Heywood, section 9; from memory).
    fn default() -> Self {
        Self {
            base: 1.30,
            per_ln_speed: 0.0,
            per_ln_volume: 0.0,
            per_ln_ratio: 0.0,
            warm: 0.0,
            ports: 0.0,
            residual: 0.025,
            healthy_leak_mm2_per_mm: 0.004,
            healthy_leak_spread: 0.5,
            made_by: "from memory".to_owned(),
        }
    }
}

/// How well a cylinder's closing angle is known: standard deviation in degrees.
pub const fn closing_doubt_deg(geometry: &Geometry) -> f64 {
    if geometry.closing_known {
        STATED_CLOSING_DOUBT_DEG
    } else {
        CLOSING_DOUBT_DEG
    }
}

/// What an expectation rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// Bore, stroke, ratio and closing angle of the card.
    Card,
    /// Bore, stroke and ratio of the card; a usual closing angle.
    UsualClosing,
    /// Nothing but the compression ratio.
    RatioOnly,
}

/// What a healthy cylinder should read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Expected {
    /// Most likely gauge reading.
    pub likely: Pressure,
    /// Its standard uncertainty.
    pub standard: Pressure,
    /// What it rests on.
    pub basis: Basis,
}

/// The crank speed taken where none was measured.
pub fn usual_crank(start: Option<Start>) -> Rate {
    Rate::from_per_min(match start {
        Some(Start::Electric) | None => 250.0,
        Some(Start::Kick) => 400.0,
        Some(Start::PullCord) => 500.0,
        Some(Start::HandCrank) => 150.0,
    })
}

/// The crank speed behind a stroke rate. A kick or a pull that makes one compression only is
/// followed by a pause, and the spacing of the strokes is then that of the kicks: below two
/// fifths of the usual speed it is no crank speed, and none is given.
pub fn crank_speed(strokes: Rate, cycle: Cycle, start: Option<Start>) -> Option<Rate> {
    let crank = strokes * cycle.turns_per_stroke();
    let bursts = matches!(start, Some(Start::Kick | Start::PullCord));
    let pauses = bursts && crank.hz() < 0.4 * usual_crank(start).hz();
    (crank.is_finite() && crank.hz() > 0.0 && !pauses).then_some(crank)
}

/// The compression of a cylinder of this engine as the tester sees it; none where the card does
/// not give bore, stroke and compression ratio, and none for an engine that the calculation was
/// not made for: a diesel, or one whose decompressor opens by itself.
pub fn compression(
    card: &JobCard,
    ambient: &Ambient,
    crank: Option<Rate>,
    condition: Condition,
) -> Option<Compression> {
    if EngineKind::of(Some(card)).reading_only().is_some() {
        return None;
    }
    let bare = Geometry::of(&card.engine)?;
    let dead = card.tester.as_ref().and_then(|t| t.dead_volume_cm3);
    let geometry = bare.with_dead_cm3(dead.unwrap_or(0.0));
    let crank = crank
        .filter(|rate| rate.is_finite() && rate.hz() > 0.0)
        .unwrap_or_else(|| usual_crank(card.engine.start));
    Some(Compression {
        geometry,
        start_absolute: ambient.absolute,
        ambient_absolute: ambient.absolute,
        start: CHARGE,
        exponent: TightModel::shipped().exponent(&geometry, crank, condition),
        crank,
    })
}

/// The leak of a healthy cylinder in mm², where the bore is known.
pub fn healthy_leak_mm2(card: &JobCard) -> Option<f64> {
    Some(TightModel::shipped().healthy_leak_mm2_per_mm * card.engine.bore_mm?)
}

/// What a healthy cylinder of this engine should read, at a crank speed where it is known. None
/// where the card does not even give the compression ratio, and none for an engine that the
/// calculation was not made for (see [`compression`]).
pub fn expected(
    card: &JobCard,
    ambient: &Ambient,
    crank: Option<Rate>,
    condition: Condition,
) -> Option<Expected> {
    if EngineKind::of(Some(card)).reading_only().is_some() {
        return None;
    }
    match compression(card, ambient, crank, condition) {
        Some(tight) => Some(from_geometry(card, ambient, &tight, crank.is_some())),
        None => by_ratio(card.engine.compression_ratio?, ambient),
    }
}

/// By the stroke model; each doubt is turned into a doubt of the reading by moving it once.
fn from_geometry(
    card: &JobCard,
    ambient: &Ambient,
    tight: &Compression,
    speed_known: bool,
) -> Expected {
    let model = TightModel::shipped();
    let leak = healthy_leak_mm2(card).unwrap_or(0.0);
    let geometry = tight.geometry;
    let with = |geometry: Geometry| Compression { geometry, ..*tight };
    let mut strokes = vec![
        (*tight, leak),
        (
            Compression {
                exponent: tight.exponent + model.residual,
                ..*tight
            },
            leak,
        ),
        (
            with(Geometry {
                ratio: geometry.ratio * (1.0 + RATIO_DOUBT),
                ..geometry
            }),
            leak,
        ),
        (*tight, leak * (1.0 + model.healthy_leak_spread)),
        (
            with(geometry.closing_later(closing_doubt_deg(&geometry))),
            leak,
        ),
    ];
    if !speed_known {
        let crank = tight.crank * (1.0 + SPEED_DOUBT);
        strokes.push((Compression { crank, ..*tight }, leak));
    }
    let mut moved = peaks(&strokes);
    let likely = moved.remove(0);
    moved.insert(3, likely * (1.0 + ambient.standard / ambient.absolute));
    let squares: f64 = moved
        .iter()
        .map(|p| (p.pa() - likely.pa()) * (p.pa() - likely.pa()))
        .sum();
    Expected {
        likely,
        standard: Pressure::from_pa(libm::sqrt(squares)),
        basis: if geometry.closing_known {
            Basis::Card
        } else {
            Basis::UsualClosing
        },
    }
}

/// What a healthy cylinder should read as far as the geometric compression ratio (to 1) tells:
/// effective ratio 0.75 to 0.95 of it, exponent 1.20 to 1.35 (1.2 to 1.3 by Wikipedia, "Compression
/// ratio"; 1.25 to 1.35 when motored, Heywood, from memory). None where the ratio is no number.
pub fn by_ratio(ratio: f64, ambient: &Ambient) -> Option<Expected> {
    let gauge = |share: f64, exponent: f64| {
        ambient.absolute * (libm::pow((ratio * share).max(1.0), exponent) - 1.0)
    };
    let (low, high) = (gauge(0.75, 1.20), gauge(0.95, 1.35));
    // The larger of no number and 1 would be 1, so the ratio itself is looked at.
    if ratio.is_nan() || !low.is_finite() || !high.is_finite() {
        return None;
    }
    Some(Expected {
        likely: (low + high) * 0.5,
        // The range is taken as two standard deviations either way.
        standard: (high - low) * 0.25,
        basis: Basis::RatioOnly,
    })
}
