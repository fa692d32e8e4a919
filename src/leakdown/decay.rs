//! A filled volume that is shut off loses what leaks: the leak from volume and fall.
//!
//! With the gas as warm as its walls, V·dp/dt = −CdA·√(R·T)·p·ψ(p₀/p). So the integral of dp/(p·ψ)
//! falls in a straight line over time, choked or not, and its slope is CdA·√(R·T)/V.

use super::leak::Leak;
use super::plateau::Bin;
use crate::engine::flow::{R_AIR, driven};
use crate::units::{Pressure, Temperature, Time};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Choked flow function of air: what the time constant is counted with.
const CHOKED: f64 = 0.684_731;
/// Gas that is let in warms up and cools down again: the first of the fall (s) is not used.
const CALM_S: f64 = 0.5;
/// Below this share of what it began with the rest is not used.
const LEAST_LEFT: f64 = 0.08;
/// Fewest averages from which a fall is told.
const FEWEST: usize = 5;
/// Relative standard uncertainty of a volume that was given or worked out. Own estimate.
const VOLUME_STANDARD: f64 = 0.04;
/// Gas that falls fast cools, and falls faster: exponent 1 (slow) to 1.4. Relative standard
/// uncertainty of that, times this time (s) over the time constant, at most [`COOLS_MOST`]. Own estimate.
const COOLS_S: f64 = 0.25;
const COOLS_MOST: f64 = 0.15;

/// How a shut-off pressure falls, and what it is in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Course {
    /// Volume in m³, where it is known.
    pub volume_m3: Option<f64>,
    /// Ambient pressure, absolute.
    pub ambient_absolute: Pressure,
    /// Temperature of the gas.
    pub gas: Temperature,
    /// Standard uncertainty of the zero.
    pub zero_standard: Pressure,
}

/// How a shut-off pressure fell.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DecayResult {
    /// Where it began, gauge.
    #[serde(rename = "from_pa")]
    pub from: Pressure,
    /// Where it ended, gauge.
    #[serde(rename = "to_pa")]
    pub to: Pressure,
    /// How long it was watched.
    #[serde(rename = "watched_s")]
    pub watched: Time,
    /// In so long the absolute pressure falls to 1/e, as long as the leak is choked; none where no
    /// fall is seen beyond the noise.
    #[serde(rename = "time_constant_s")]
    pub time_constant: Option<Time>,
    /// Relative expanded uncertainty (k = 2) of the rate of fall.
    pub rate_expanded: f64,
    /// The effective leak, where the volume is known.
    pub leak: Option<Leak>,
}

/// The leak behind a fall: averages (s, Pa gauge) from when it was shut off. None where it was not
/// watched long enough.
pub fn decay(fall: &[(f64, f64)], course: &Course) -> Option<DecayResult> {
    let bins: Vec<Bin> = fall.iter().map(|&(at, mean)| Bin { at, mean }).collect();
    fell(&bins, course)
}

pub(super) fn fell(bins: &[Bin], course: &Course) -> Option<DecayResult> {
    let shut = bins.first()?.at;
    let bins: Vec<Bin> = bins
        .iter()
        .copied()
        .filter(|bin| bin.at >= shut + CALM_S)
        .collect();
    let first = *bins.first()?;
    let least = (LEAST_LEFT * first.mean).max(4.0 * course.zero_standard.pa());
    let used = bins.iter().take_while(|bin| bin.mean > least).count();
    let used = &bins[..used];
    if used.len() < FEWEST {
        return None;
    }
    let last = *used.last()?;
    let (slope, standard) = slope(&integrals(used, course.ambient_absolute));
    let doubt = libm::hypot(standard, zero_moves(used, course));
    let seen = slope > 2.0 * doubt;
    let time_constant = 1.0 / (CHOKED * slope);
    let cools = (COOLS_S / time_constant).clamp(0.0, COOLS_MOST);
    let relative = libm::hypot(doubt / slope, cools);
    let unit = course
        .volume_m3
        .map(|volume| 1e6 * volume / libm::sqrt(R_AIR * course.gas.kelvin()));
    let leak = unit.map(|unit| {
        let common = 2.0 * libm::hypot(VOLUME_STANDARD, cools);
        let mm2 = (unit * slope).max(0.0);
        let by = 2.0 * unit * doubt;
        Leak {
            mm2,
            low_mm2: (mm2 - libm::hypot(by, common * mm2)).max(0.0),
            high_mm2: mm2 + libm::hypot(by, common * mm2),
        }
    });
    Some(DecayResult {
        from: Pressure::from_pa(first.mean),
        to: Pressure::from_pa(last.mean),
        watched: Time::from_s(last.at - first.at),
        time_constant: seen.then(|| Time::from_s(time_constant)),
        rate_expanded: if seen { 2.0 * relative } else { 1.0 },
        leak,
    })
}

/// The integral of dp/(p·ψ) from each pressure down to that of each bin, with its time.
fn integrals(bins: &[Bin], ambient: Pressure) -> Vec<(f64, f64)> {
    let inverse = |gauge: f64| {
        let absolute = ambient + Pressure::from_pa(gauge);
        1.0 / (absolute.pa() * driven(absolute, ambient))
    };
    let mut sum = 0.0;
    let mut all = Vec::with_capacity(bins.len());
    let mut before: Option<Bin> = None;
    for bin in bins {
        if let Some(last) = before {
            let middle = 0.5 * (last.mean + bin.mean);
            let mean = (inverse(last.mean) + 4.0 * inverse(middle) + inverse(bin.mean)) / 6.0;
            sum += mean * (last.mean - bin.mean);
        }
        all.push((bin.at, sum));
        before = Some(*bin);
    }
    all
}

/// How much another zero would change the slope (1/s).
fn zero_moves(bins: &[Bin], course: &Course) -> f64 {
    let zero = course.zero_standard.pa();
    let moved: Vec<Bin> = bins
        .iter()
        .map(|bin| Bin {
            mean: bin.mean - zero,
            ..*bin
        })
        .collect();
    let slope_of = |bins: &[Bin]| slope(&integrals(bins, course.ambient_absolute)).0;
    // A zero that moves while it is watched counts as well: as if over the whole of it.
    let (Some(first), Some(last)) = (bins.first(), bins.last()) else {
        return 0.0;
    };
    let drift = zero / (first.mean.max(zero) * (last.at - first.at));
    libm::hypot(slope_of(&moved) - slope_of(bins), drift)
}

/// Slope of a straight line and its standard uncertainty.
fn slope(points: &[(f64, f64)]) -> (f64, f64) {
    let n = points.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| points.iter().map(of).sum::<f64>() / n;
    let (t0, y0) = (mean(|p| p.0), mean(|p| p.1));
    let (mut tt, mut ty, mut yy) = (0.0, 0.0, 0.0);
    for (t, y) in points {
        let (t, y) = (t - t0, y - y0);
        (tt, ty, yy) = (tt + t * t, ty + t * y, yy + y * y);
    }
    let slope = ty / tt;
    let left = (yy - slope * ty).max(0.0) / (n - 2.0).max(1.0);
    // Averages next to each other share what is slow in the noise.
    (slope, libm::sqrt(2.0 * left / tt))
}
