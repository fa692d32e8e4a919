//! `lab tight`: fits the polytropic exponent of a tight cylinder to the gas model.

use super::causes::engines::geometry;
use super::causes::visit::Cause;
use super::causes::{own, population};
use needlerest::engine::Condition;
use needlerest::engine::expected::{TightModel, crank_speed};
use needlerest::simulate::{self, RunSpec};
use needlerest::units::Pressure;
use rayon::prelude::*;

type Failed = Box<dyn std::error::Error + Send + Sync>;

/// Fit the exponent of a tight cylinder and print `src/engine/tight.toml`.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// How many visits.
    #[arg(long, default_value_t = 600)]
    visits: u64,
    /// Seed of the population.
    #[arg(long, default_value_t = 11)]
    seed: u64,
}

pub fn run(args: &Args) -> Result<(), Failed> {
    print!("{}", fit(args.seed, args.visits)?);
    Ok(())
}

/// Terms of the fit: constant, speed, volume, ratio, warm, ports.
const TERMS: usize = 6;

/// One tight cylinder: terms and exponent.
type Point = ([f64; TERMS], f64);

/// The fitted coefficients as TOML.
fn fit(seed: u64, count: u64) -> Result<String, Failed> {
    let points: Vec<Point> = (0..count)
        .into_par_iter()
        .filter_map(|index| point(seed, index))
        .collect();
    let solved = least_squares(&points).ok_or("too few visits to fit from: ask for more")?;
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
        healthy_leak_mm2_per_mm: population::SOUND_LEAK,
        healthy_leak_spread: libm::hypot(population::SOUND_SPREAD.0, population::SOUND_SPREAD.1),
        made_by: format!("lab tight --visits {count} --seed {seed}"),
    };
    let text = toml::to_string(&model)?;
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
    if visit.cause == Cause::Slow {
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
    let cadence = own::read(&spec, &visit.card, &trace.samples)?.cadence?;
    let crank = crank_speed(cadence.median, spec.engine.cycle, visit.card.engine.start)?;
    let ambient = Pressure::from_kpa(spec.surroundings.ambient_kpa);
    let absolute = trace.truth.perfect_gauge + ambient;
    let geometry = geometry(&spec.engine);
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
