//! The top of a stroke between samples.
//!
//! Near top dead centre the cylinder's volume is a parabola in time, and the pressure is a power
//! of the volume (polytropic compression, p·Vⁿ constant). So `p^(−1/n)` is fitted with a
//! parabola, which holds over a far wider part of the stroke than a parabola through the
//! pressures themselves.

/// Polytropic exponent of motored compression (Heywood, *Internal Combustion Engine
/// Fundamentals*, ch. 9; from memory). Only the shape between samples depends on it.
const EXPONENT: f64 = 1.3;

/// A sample: time in seconds, gauge pressure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Point {
    pub(super) t: f64,
    pub(super) x: f64,
}

/// The top of a stroke.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Top {
    pub(super) time: f64,
    pub(super) level: f64,
    /// Standard uncertainty from noise.
    pub(super) standard: f64,
    /// Standard uncertainty from the shape between samples.
    pub(super) bias: f64,
    /// How far below the peak the samples around it may lie.
    pub(super) cut_off: f64,
}

/// Fits the top through `points` (in order of time), of which `highest` is the highest.
pub(super) fn top(
    points: impl Iterator<Item = Point> + Clone,
    highest: Point,
    ambient: f64,
    noise: f64,
) -> Top {
    let as_sampled = Top {
        time: highest.t,
        level: highest.x,
        standard: noise,
        bias: 0.3 * highest.x.max(0.0),
        cut_off: highest.x.max(0.0),
    };
    let lowest_absolute = 0.05 * ambient;
    let volume = |x: f64| libm::pow((x + ambient).max(lowest_absolute), -1.0 / EXPONENT);
    // dV/dp, to weigh each point by its noise as seen in the volume.
    let slope = |x: f64| volume(x) / (EXPONENT * (x + ambient).max(lowest_absolute));
    let scale = points
        .clone()
        .map(|p| (p.t - highest.t).abs())
        .fold(0.0, f64::max);
    if scale <= 0.0 {
        return as_sampled;
    }
    let unit = volume(highest.x);
    let weight_unit = slope(highest.x);
    let (mut sums, mut rhs, mut n, mut squares) = ([0.0; 5], [0.0; 3], 0.0, 0.0);
    for point in points.clone() {
        let u = (point.t - highest.t) / scale;
        let relative = slope(point.x) / weight_unit;
        let weight = 1.0 / (relative * relative);
        let y = volume(point.x) / unit;
        let mut power = weight;
        for (k, sum) in sums.iter_mut().enumerate() {
            *sum += power;
            if let Some(r) = rhs.get_mut(k) {
                *r += power * y;
            }
            power *= u;
        }
        squares += weight * y * y;
        n += 1.0;
    }
    let Some(fit) = parabola(&sums, &rhs) else {
        return as_sampled;
    };
    let [c0, c1, c2] = fit.coefficients;
    if n < 3.0 || c2 <= 0.0 {
        return as_sampled;
    }
    let u_top = -c1 / (2.0 * c2);
    let lowest_volume = (c0 - c1 * c1 / (4.0 * c2)) * unit;
    if !(u_top.abs() <= 1.0 && lowest_volume > 0.0) {
        return as_sampled;
    }
    let pressure = |v: f64| libm::pow(v, -EXPONENT) - ambient;
    // Whatever the fit says, the peak is not below its highest sample, but for noise.
    let level = pressure(lowest_volume).max(highest.x - 2.0 * noise);
    let cut_off = level - pressure(lowest_volume + c2 * unit * half_step(points, highest, scale));
    let cut_off = cut_off.max(0.0);
    let made_up = INTERPOLATION * (level - highest.x).max(0.0);
    let misfit = if n > 3.0 {
        // Residuals of the volumes, brought back to pressures at the top.
        let rss = squares - (c0 * rhs[0] + c1 * rhs[1] + c2 * rhs[2]);
        let residual = (rss.max(0.0) / (n - 3.0)).sqrt() * unit / weight_unit;
        MISFIT * ((residual * residual - noise * noise).max(0.0) / n).sqrt()
    } else {
        UNCHECKED * cut_off
    };
    Top {
        time: highest.t + u_top * scale,
        level,
        standard: noise * fit.variance_at(u_top).max(0.0).sqrt(),
        bias: libm::hypot(made_up, misfit),
        cut_off,
    }
}

/// Standard uncertainty of the interpolation as a share of what it adds to the highest sample.
const INTERPOLATION: f64 = 0.1;
/// The same as a share of what the standard error of a misfitting parabola would be.
const MISFIT: f64 = 0.8;
/// The same as a share of the cut-off, where three samples leave nothing to check the shape with.
const UNCHECKED: f64 = 0.22;

/// The square of half the time between the samples around the peak, in units of `scale`.
fn half_step(points: impl Iterator<Item = Point>, highest: Point, scale: f64) -> f64 {
    let (mut before, mut after) = (f64::INFINITY, f64::INFINITY);
    for point in points {
        let away = point.t - highest.t;
        if away < 0.0 {
            before = before.min(-away);
        } else if away > 0.0 {
            after = after.min(away);
        }
    }
    let step = before.min(after);
    let half = if step.is_finite() {
        0.5 * step / scale
    } else {
        1.0
    };
    half * half
}

struct Parabola {
    coefficients: [f64; 3],
    /// Inverse of the normal matrix (symmetric).
    inverse: [[f64; 3]; 3],
}

impl Parabola {
    /// Variance of the fitted value at `u`, in units of the points' variance.
    fn variance_at(&self, u: f64) -> f64 {
        let row = [1.0, u, u * u];
        let mut sum = 0.0;
        for (r, line) in row.iter().zip(&self.inverse) {
            for (c, value) in row.iter().zip(line) {
                sum += r * c * value;
            }
        }
        sum
    }
}

/// Solves the weighted normal equations of a parabola from the power sums 0 to 4.
fn parabola(s: &[f64; 5], rhs: &[f64; 3]) -> Option<Parabola> {
    let [s0, s1, s2, s3, s4] = *s;
    let c00 = s2 * s4 - s3 * s3;
    let c01 = s2 * s3 - s1 * s4;
    let c02 = s1 * s3 - s2 * s2;
    let determinant = s0 * c00 + s1 * c01 + s2 * c02;
    if determinant.is_nan() || determinant <= 1e-12 * s0 * s0 * s0 {
        return None;
    }
    let c11 = s0 * s4 - s2 * s2;
    let c12 = s1 * s2 - s0 * s3;
    let c22 = s0 * s2 - s1 * s1;
    let inverse = [[c00, c01, c02], [c01, c11, c12], [c02, c12, c22]]
        .map(|line| line.map(|value| value / determinant));
    let coefficients = inverse.map(|line| line[0] * rhs[0] + line[1] * rhs[1] + line[2] * rhs[2]);
    Some(Parabola {
        coefficients,
        inverse,
    })
}
