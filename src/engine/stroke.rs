//! One compression stroke with a leak: a polytropic gas losing mass through a small hole.
//!
//! p = p₀·(m/m₀ · V₀/V)ⁿ and dm/dt = −CdA·p/√(R·T)·ψ, with ψ the nozzle function of air, choked
//! where it must be (NASA Glenn, *Mass Flow Choking*). It holds every reading against a hole in
//! mm², and says what a change of cranking speed does to a leaking cylinder.

use super::Geometry;
use crate::units::{Pressure, Rate, Temperature};
use std::sync::LazyLock;

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
        self.peak_along(&self.course(), leak_mm2)
    }

    /// How much the volume has shrunk at every half step: the same for every leak.
    fn course(&self) -> Course {
        let from = self.geometry.closing_angle();
        let step = (PAST_TOP - from) / f64::from(STEPS);
        let start_m3 = self.geometry.volume_m3(from);
        let shrunk = |half: u32| {
            let angle = from + f64::from(half) * (step / 2.0);
            libm::log(start_m3 / self.geometry.volume_m3(angle))
        };
        Course {
            start_m3,
            step,
            shrunk: (0..=2 * STEPS).map(shrunk).collect(),
        }
    }

    /// Mass, volume and pressure are carried as logarithms of their ratio to those at the start:
    /// the polytropic law is then a product, and one exponential a step is all that is left.
    fn peak_along(&self, course: &Course, leak_mm2: f64) -> Pressure {
        if leak_mm2 <= 0.0 {
            return self.gauge(self.geometry.effective_ratio());
        }
        let gas = R_AIR * self.start.kelvin();
        let full = self.start_absolute.pa() * course.start_m3 / gas;
        let per_radian = leak_mm2 * 1e-6 / (full * core::f64::consts::TAU * self.crank.hz());
        let fastest = per_radian * self.start_absolute.pa() / libm::sqrt(gas);
        let outside = libm::log(self.ambient_absolute / self.start_absolute);
        // dm/m, with p/√T being the root of pressure times density.
        let half = f64::midpoint(self.exponent, 1.0);
        let leaves = |shrunk: f64, mass: f64| {
            let squeeze = mass + shrunk;
            let flow = nozzle(outside - self.exponent * squeeze);
            -fastest * libm::exp(half * squeeze - mass) * flow
        };
        let mut mass = 0.0;
        let mut best = f64::NEG_INFINITY;
        for half_steps in course.shrunk.windows(3).step_by(2) {
            let &[begin, middle, end] = half_steps else {
                continue;
            };
            mass += runge_kutta(&leaves, [begin, middle, end], mass, course.step);
            best = best.max(mass + end);
        }
        self.gauge(libm::exp(best))
    }

    /// Gauge pressure of gas squeezed this many times denser than at the start.
    fn gauge(&self, squeeze: f64) -> Pressure {
        self.start_absolute * libm::pow(squeeze.max(0.0), self.exponent) - self.ambient_absolute
    }

    /// The effective leak in mm² that makes the peak this gauge pressure: 0 where it is at or
    /// above what a tight cylinder gives, none where no hole looked for brings it so low.
    pub fn leak_mm2(&self, peak: Pressure) -> Option<f64> {
        let course = self.course();
        let peak_with = |leak| self.peak_along(&course, leak);
        let tight = peak_with(0.0);
        if peak >= tight {
            return Some(0.0);
        }
        let litre_hz = self.geometry.swept_m3 * 1e3 * self.crank.hz();
        let (mut low, mut high) = (0.0, WIDEST * litre_hz);
        if !litre_hz.is_finite() {
            return None;
        }
        let leakiest = peak_with(high);
        if leakiest > peak {
            return None;
        }
        // Regula falsi on the logarithms of absolute pressures, the Illinois way: the end that
        // stays has its weight halved, so that both ends close in.
        let wanted = libm::log((peak + self.ambient_absolute).pa());
        let over = |peak: Pressure| libm::log((peak + self.ambient_absolute).pa()) - wanted;
        let (mut at_low, mut at_high) = (over(tight), over(leakiest));
        let mut low_moved = true;
        for _ in 0..60 {
            let next = (low * at_high - high * at_low) / (at_high - at_low);
            let value = over(peak_with(next));
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

/// A stroke in steps.
struct Course {
    /// Volume when compression begins.
    start_m3: f64,
    /// In radians.
    step: f64,
    /// Logarithm of that volume over the one at each half step.
    shrunk: Vec<f64>,
}

/// One classic fourth-order step, `at` its begin, middle and end; returns the change.
fn runge_kutta(rate: &impl Fn(f64, f64) -> f64, at: [f64; 3], value: f64, step: f64) -> f64 {
    let [begin, middle, end] = at;
    let k1 = rate(begin, value);
    let k2 = rate(middle, value + step / 2.0 * k1);
    let k3 = rate(middle, value + step / 2.0 * k2);
    let k4 = rate(end, value + step * k3);
    step / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
}

/// Nozzle function ψ of air, from the logarithm of the ratio of outside to inside pressure; 0 with
/// nothing to drive it.
fn nozzle(ratio: f64) -> f64 {
    // Where the flow chokes, and ψ from there on: most of the stroke.
    static CHOKED: LazyLock<(f64, f64)> = LazyLock::new(|| {
        let critical = libm::log(2.0 / (GAMMA + 1.0)) * GAMMA / (GAMMA - 1.0);
        (critical, unchoked(critical))
    });
    let (critical, choked) = *CHOKED;
    match ratio {
        r if r >= 0.0 => 0.0,
        r if r > critical => unchoked(r),
        _ => choked,
    }
}

fn unchoked(ratio: f64) -> f64 {
    let driving = libm::exp(ratio * (2.0 / GAMMA)) - libm::exp(ratio * ((GAMMA + 1.0) / GAMMA));
    libm::sqrt(2.0 * GAMMA / (GAMMA - 1.0) * driving.max(0.0))
}
