//! Fits the polytropic exponent of a tight cylinder to the gas model.

use super::measure;
use super::population;
use crate::assess::CauseKind;
use crate::cli::{Exit, Failure};
use crate::engine::expected::{TightModel, crank_speed};
use crate::engine::{Condition, Geometry};
use crate::simulate::{self, RunSpec};
use crate::units::Pressure;
use rayon::prelude::*;

/// Terms of the fit: constant, speed, volume, ratio, warm, ports.
const TERMS: usize = 6;

/// One tight cylinder: terms and exponent.
type Point = ([f64; TERMS], f64);

/// The fitted coefficients as TOML.
pub(super) fn fit(seed: u64, count: u64, command: &str) -> Result<String, Failure> {
    let bar = crate::cli::terminal::progress(count, "tight cylinders");
    let points: Vec<Point> = (0..count)
        .into_par_iter()
        .filter_map(|index| {
            let point = point(seed, index);
            bar.inc(1);
            point
        })
        .collect();
    bar.finish_and_clear();
    let solved = least_squares(&points).ok_or_else(|| {
        Failure::new(Exit::Failed, "too few visits to fit from").remedy("ask for more of them")
    })?;
    let predicted = |terms: &[f64; TERMS]| dot(terms, &solved);
    let squares: f64 = points
        .iter()
        .map(|(terms, exponent)| exponent - predicted(terms))
        .map(|rest| rest * rest)
        .sum();
    let residual = libm::sqrt(squares / (points.len().saturating_sub(TERMS).max(1)) as f64);
    let [base, per_ln_speed, per_ln_volume, per_ln_ratio, warm, ports] = solved.map(rounded);
    let model = TightModel {
        base,
        per_ln_speed,
        per_ln_volume,
        per_ln_ratio,
        warm,
        ports,
        residual: rounded(residual),
        healthy_leak_mm2_per_mm: population::HEALTHY_LEAK,
        healthy_leak_spread: libm::hypot(
            population::HEALTHY_SPREAD.0,
            population::HEALTHY_SPREAD.1,
        ),
        made_by: command.to_owned(),
    };
    let text = toml::to_string(&model).map_err(|error| Failure::new(Exit::Failed, error))?;
    Ok(format!(
        "# The polytropic exponent of a tight cylinder being cranked, and the leak of a healthy one.\n\
         #\n\
         #   exponent = base + per_ln_speed · ln(crank rpm / 200) + per_ln_volume · ln(swept cm³ / 300)\n\
         #            + per_ln_ratio · ln(effective ratio / 8) + (at working temperature) warm + (two-stroke) ports\n\
         #\n\
         # `residual` is the standard deviation about that on the {} cylinders fitted.\n\n{text}",
        points.len()
    ))
}

fn rounded(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

/// A tight cylinder of the population under a gauge without volume, and the exponent at which
/// the stroke model reads the same.
fn point(seed: u64, index: u64) -> Option<Point> {
    let visit = population::visit(seed, index);
    if visit.cause == CauseKind::SlowCranking {
        return None;
    }
    let mut spec: RunSpec = visit.dry.first()?.clone();
    spec.throttle = 1.0;
    spec.engine.gaskets.clear();
    for cylinder in &mut spec.engine.cylinders {
        cylinder.ring_leak_mm2 = 0.0;
        cylinder.intake_leak_mm2 = 0.0;
        cylinder.exhaust_leak_mm2 = 0.0;
        cylinder.deposits_cm3 = 0.0;
        cylinder.cam_late_deg = 0.0;
    }
    let trace = simulate::run(&spec).ok()?;
    let cadence = measure::read(&spec, &trace.samples)?.cadence?;
    let crank = crank_speed(cadence.median, spec.engine.cycle, visit.card.engine.start)?;
    let ambient = Pressure::from_kpa(spec.surroundings.ambient_kpa);
    let absolute = trace.truth.perfect_gauge + ambient;
    let geometry = geometry(&spec);
    let effective = geometry.effective_ratio();
    let exponent = libm::log(absolute / ambient) / libm::log(effective);
    let warm = f64::from(u8::from(spec.condition != Condition::ColdDry));
    let terms = [
        1.0,
        libm::log(crank.per_min() / 200.0),
        libm::log(geometry.swept_m3 * 1e6 / 300.0),
        libm::log(effective / 8.0),
        warm,
        f64::from(u8::from(geometry.ports)),
    ];
    exponent.is_finite().then_some((terms, exponent))
}

/// The cylinder as it is.
fn geometry(spec: &RunSpec) -> Geometry {
    let engine = &spec.engine;
    let closes = match (&engine.valves, &engine.ports) {
        (Some(valves), _) => valves.intake_closes_abdc,
        (None, Some(ports)) => 180.0 - ports.exhaust_opens_atdc,
        (None, None) => 50.0,
    };
    let bore = engine.bore_mm / 1e3;
    Geometry {
        swept_m3: core::f64::consts::FRAC_PI_4 * bore * bore * engine.stroke_mm / 1e3,
        ratio: engine.compression_ratio,
        rod_ratio: 2.0 * engine.rod_mm / engine.stroke_mm,
        closes_deg_abdc: closes,
        ports: engine.ports.is_some(),
        closing_known: true,
        dead_m3: 0.0,
        oil_m3: 0.0,
    }
}

fn dot(a: &[f64; TERMS], b: &[f64; TERMS]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Ordinary least squares by the normal equations (Gauss and Jordan's elimination).
fn least_squares(points: &[Point]) -> Option<[f64; TERMS]> {
    let mut rows = [[0.0; TERMS + 1]; TERMS];
    for (terms, value) in points {
        for (row, term) in rows.iter_mut().zip(terms) {
            for (cell, other) in row.iter_mut().zip(terms.iter().chain([value])) {
                *cell += term * other;
            }
        }
    }
    for pivot in 0..TERMS {
        let best = (pivot..TERMS)
            .max_by(|a, b| rows[*a][pivot].abs().total_cmp(&rows[*b][pivot].abs()))?;
        rows.swap(pivot, best);
        let head = rows[pivot];
        if head[pivot].abs() < 1e-12 {
            return None;
        }
        for (at, row) in rows.iter_mut().enumerate() {
            if at != pivot {
                let factor = row[pivot] / head[pivot];
                for (cell, above) in row.iter_mut().zip(head) {
                    *cell -= factor * above;
                }
            }
        }
    }
    let mut solved = [0.0; TERMS];
    for (at, value) in solved.iter_mut().enumerate() {
        *value = rows[at][TERMS] / rows[at][at];
    }
    Some(solved)
}
