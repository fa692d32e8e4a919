//! One compression stroke with a leak: a polytropic gas losing mass through a small hole.
//!
//! p = p₀·(m/m₀ · V₀/V)ⁿ and dm/dt = −CdA·p/√(R·T)·ψ, with ψ the nozzle function of air, choked
//! where it must be (NASA Glenn, *Mass Flow Choking*). It holds every reading against a hole in
//! mm², and says what a change of cranking speed does to a leaking cylinder.

use super::Geometry;
use crate::units::{Pressure, Rate, Temperature};

/// Gas constant of air, J/(kg·K).
const R_AIR: f64 = 287.05;
/// Ratio of specific heats of air.
const GAMMA: f64 = 1.4;
/// Integration steps over the stroke; halving the step moves the peak by less than 0.01 %.
const STEPS: u32 = 96;
/// How far past top dead centre the stroke is followed, radians. The peak is never later.
const PAST_TOP: f64 = 0.05;
/// Widest hole that is looked for, mm² a litre of swept volume and crank turn a second.
const WIDEST: f64 = 60.0;

/// How a cylinder is compressed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Compression {
    /// Volumes.
    pub geometry: Geometry,
    /// Pressure in the cylinder when compression begins, absolute.
    pub start_absolute: Pressure,
    /// Ambient pressure, absolute: what the reading is counted from.
    pub ambient_absolute: Pressure,
    /// Gas temperature when compression begins.
    pub start: Temperature,
    /// Polytropic exponent.
    pub exponent: f64,
    /// Crank speed.
    pub crank: Rate,
}

impl Compression {
    /// Highest gauge pressure with an effective leak (discharge coefficient times area) in mm².
    pub fn peak(&self, leak_mm2: f64) -> Pressure {
        let from = self.geometry.closing_angle();
        let start_volume = self.geometry.volume_m3(from);
        let step = (PAST_TOP - from) / f64::from(STEPS);
        // Mass is carried as its share of what was there at the start.
        let full = self.start_absolute.pa() * start_volume / (R_AIR * self.start.kelvin());
        let per_radian = leak_mm2 * 1e-6 / (full * core::f64::consts::TAU * self.crank.hz());
        let leaves = |angle: f64, mass: f64| {
            let squeeze = mass * start_volume / self.geometry.volume_m3(angle);
            let pressure = self.start_absolute.pa() * libm::pow(squeeze, self.exponent);
            let kelvin = self.start.kelvin() * libm::pow(squeeze, self.exponent - 1.0);
            let flow = nozzle(self.ambient_absolute.pa() / pressure);
            -per_radian * pressure / libm::sqrt(R_AIR * kelvin) * flow
        };
        if leak_mm2 <= 0.0 {
            return self.gauge(self.geometry.effective_ratio());
        }
        let mut mass = 1.0;
        let mut best: f64 = 0.0;
        for n in 0..STEPS {
            let angle = from + f64::from(n) * step;
            mass += runge_kutta(&leaves, angle, mass, step);
            let squeeze = mass * start_volume / self.geometry.volume_m3(angle + step);
            best = best.max(squeeze);
        }
        self.gauge(best)
    }

    /// Gauge pressure of gas squeezed this many times denser than at the start.
    fn gauge(&self, squeeze: f64) -> Pressure {
        self.start_absolute * libm::pow(squeeze.max(0.0), self.exponent) - self.ambient_absolute
    }

    /// The effective leak in mm² that makes the peak this gauge pressure: 0 where it is at or
    /// above what a tight cylinder gives, none where no hole looked for brings it so low.
    pub fn leak_mm2(&self, peak: Pressure) -> Option<f64> {
        if peak >= self.peak(0.0) {
            return Some(0.0);
        }
        let litre_hz = self.geometry.swept_m3 * 1e3 * self.crank.hz();
        let (mut low, mut high) = (0.0, WIDEST * litre_hz);
        if !litre_hz.is_finite() || self.peak(high) > peak {
            return None;
        }
        // Regula falsi on the logarithms of absolute pressures, the Illinois way: the end that
        // stays has its weight halved, so that both ends close in.
        let wanted = libm::log((peak + self.ambient_absolute).pa());
        let over = |leak: f64| libm::log((self.peak(leak) + self.ambient_absolute).pa()) - wanted;
        let (mut at_low, mut at_high) = (over(low), over(high));
        let mut low_moved = true;
        for _ in 0..60 {
            let next = (low * at_high - high * at_low) / (at_high - at_low);
            let value = over(next);
            if value.abs() < 1e-7 || high - low < 1e-9 * high {
                return Some(next);
            }
            if value > 0.0 {
                (low, at_low) = (next, value);
                if low_moved {
                    at_high *= 0.5;
                }
                low_moved = true;
            } else {
                (high, at_high) = (next, value);
                if !low_moved {
                    at_low *= 0.5;
                }
                low_moved = false;
            }
        }
        Some(0.5 * (low + high))
    }
}

/// One classic fourth-order step; returns the change.
fn runge_kutta(rate: &impl Fn(f64, f64) -> f64, at: f64, value: f64, step: f64) -> f64 {
    let k1 = rate(at, value);
    let k2 = rate(at + step / 2.0, value + step / 2.0 * k1);
    let k3 = rate(at + step / 2.0, value + step / 2.0 * k2);
    let k4 = rate(at + step, value + step * k3);
    step / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
}

/// Nozzle function ψ of air at a ratio of outside to inside pressure; 0 with nothing to drive it.
fn nozzle(ratio: f64) -> f64 {
    let critical = libm::pow(2.0 / (GAMMA + 1.0), GAMMA / (GAMMA - 1.0));
    let r = ratio.max(critical);
    if r >= 1.0 {
        return 0.0;
    }
    let driving = libm::pow(r, 2.0 / GAMMA) - libm::pow(r, (GAMMA + 1.0) / GAMMA);
    libm::sqrt(2.0 * GAMMA / (GAMMA - 1.0) * driving.max(0.0))
}
