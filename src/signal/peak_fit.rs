//! The top of a stroke between samples.
//!
//! Near top dead centre the cylinder's volume is a parabola in time, and the pressure is a power
//! of the volume (polytropic compression, p·Vⁿ constant). So `p^(−1/n)` is fitted with
//! `c·(1 + x² + skew·max(x, 0)³)`, `x` being time from the top in units of the stroke's own width.
//! The skew is what the charge loses past the rings and to the walls: pressure falls faster than
//! it rose. It is much the same in all strokes of a run and is learnt from them: a bank of skews
//! is kept, each weighted by how well it fitted so far.

/// Polytropic exponent of motored compression (Heywood, *Internal Combustion Engine
/// Fundamentals*, ch. 9; from memory). Only the shape between samples depends on it.
const EXPONENT: f64 = 1.3;
/// The bank of skews, …
const SKEWS: [f64; 9] = [-0.3, 0.0, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0, 2.75];
/// … and what is usual (mean and standard deviation), found on simulated engines.
const USUAL_SKEW: (f64, f64) = (0.6, 0.9);
/// The curve is not exactly the stroke's: standard deviation as a share of the distance to the top
/// (of the volume), …
const MODEL: f64 = 0.05;
/// … and of the volume, however quiet the sensor.
const LEAST: f64 = 3e-4;
/// A stroke speaks for or against a skew by this much at most (sum of squares).
const MOST_SQUARES: f64 = 12.0;
/// A stroke's say fades by this factor with every later one.
const FADE: f64 = 0.9;
/// Standard uncertainty of the interpolation as a share of what it adds to the highest sample.
const INTERPOLATION: f64 = 0.03;
/// The same grows with what it adds, as a share of the peak, by this factor; found on simulated
/// engines.
const FAR: f64 = 1.5;
/// A top higher than this multiple of the highest sample is made up.
const FARTHEST: f64 = 1.6;
/// The top lies at most this far (in samples) from the highest sample.
const REACH: f64 = 0.55;
/// Golden-section search: steps, and the smaller section (Kiefer 1953).
const SEARCH_STEPS: u32 = 22;
const SECTION: f64 = 0.381_966;

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

/// What the strokes so far say about their skew: sums of squares.
#[derive(Clone, Copy, Debug)]
pub(super) struct Skews([f64; SKEWS.len()]);

impl Skews {
    pub(super) fn new() -> Self {
        let (mean, spread) = USUAL_SKEW;
        Self(SKEWS.map(|skew| {
            let off = (skew - mean) / spread;
            off * off
        }))
    }

    /// Fades towards what is usual, and takes a stroke.
    fn learn(&mut self, squares: &[f64; SKEWS.len()]) {
        let best = squares.iter().copied().fold(f64::INFINITY, f64::min);
        if !best.is_finite() {
            return;
        }
        let usual = Self::new();
        for ((sum, usual), new) in self.0.iter_mut().zip(usual.0).zip(squares) {
            *sum = usual + FADE * (*sum - usual) + (new - best).min(MOST_SQUARES);
        }
    }

    fn weights(&self) -> [f64; SKEWS.len()] {
        let best = self.0.iter().copied().fold(f64::INFINITY, f64::min);
        self.0.map(|sum| libm::exp(-0.5 * (sum - best)))
    }
}

/// A sample as the fit sees it.
#[derive(Clone, Copy, Debug)]
struct Seen {
    t: f64,
    /// `p^(−1/n)` over that of the highest sample.
    volume: f64,
    /// Its standard deviation.
    sigma: f64,
}

/// A fitted curve.
#[derive(Clone, Copy, Debug)]
struct Curve {
    /// The volume at the top, and how fast it grows with the square of time.
    least: f64,
    bend: f64,
    top: f64,
    /// Weighted sum of squared residuals.
    squares: f64,
    /// Variance of `least` at a known top.
    variance: f64,
}

/// Fits the top through `points` (in order of time), of which `highest` is the highest.
pub(super) fn top(
    points: &[Point],
    highest: Point,
    ambient: f64,
    noise: f64,
    skews: &mut Skews,
) -> Top {
    let as_sampled = Top {
        time: highest.t,
        level: highest.x,
        standard: noise,
        bias: 0.3 * highest.x.max(0.0),
        cut_off: highest.x.max(0.0),
    };
    let step = smallest_step(points, highest);
    if points.len() < 3 || step <= 0.0 {
        return as_sampled;
    }
    let absolute = |x: f64| (x + ambient).max(0.05 * ambient);
    let unit = absolute(highest.x);
    let seen: Vec<Seen> = points
        .iter()
        .map(|point| {
            let volume = libm::pow(absolute(point.x) / unit, -1.0 / EXPONENT);
            // dV/dp brings the noise of the pressure into the volume.
            let noise = noise / (EXPONENT * absolute(point.x)) * volume;
            let model = MODEL * (volume - 1.0);
            Seen {
                t: (point.t - highest.t) / step,
                volume,
                sigma: (noise * noise + model * model + LEAST * LEAST).sqrt(),
            }
        })
        .collect();
    let curves = SKEWS.map(|skew| search(&seen, skew));
    let squares = curves.map(|curve| curve.map_or(f64::INFINITY, |curve| curve.squares));
    if seen.len() > 3 {
        skews.learn(&squares);
    }
    let pressure = |volume: f64| unit * libm::pow(volume, -EXPONENT) - ambient;
    let mut mix = Mix::default();
    for (curve, weight) in curves.iter().zip(skews.weights()) {
        if let Some(curve) = curve {
            mix.push(curve, pressure(curve.least), weight);
        }
    }
    let Some(found) = mix.finish() else {
        return as_sampled;
    };
    if found.level > FARTHEST * highest.x {
        return as_sampled;
    }
    // Whatever the fit says, the peak is not below its highest sample, but for noise.
    let level = found.level.max(highest.x - 2.0 * noise);
    let cut_off = (level - pressure(found.least + 0.25 * found.bend)).max(0.0);
    let added = (level - highest.x).max(0.0);
    let made_up = added * (INTERPOLATION + FAR * added / level.max(highest.x));
    // Residuals beyond what noise and model leave.
    let free = (seen.len() as f64 - 3.0).max(1.0);
    let misfit = (found.squares / free).max(1.0).sqrt();
    let standard = unit * EXPONENT * found.variance.sqrt();
    Top {
        time: highest.t + found.top * step,
        level,
        standard: standard.max(0.5 * noise),
        bias: libm::hypot(
            libm::hypot(made_up, found.spread),
            (misfit - 1.0) * standard,
        ),
        cut_off,
    }
}

/// Time between the highest sample and its nearer neighbour.
fn smallest_step(points: &[Point], highest: Point) -> f64 {
    let step = points
        .iter()
        .map(|point| (point.t - highest.t).abs())
        .filter(|away| *away > 0.0)
        .fold(f64::INFINITY, f64::min);
    if step.is_finite() { step } else { 0.0 }
}

/// The best curve of this skew: where its top is by golden-section search.
fn search(seen: &[Seen], skew: f64) -> Option<Curve> {
    let (mut low, mut high) = (-REACH, REACH);
    let at = |top: f64| curve(seen, top, skew);
    let squares = |top: f64| at(top).map_or(f64::INFINITY, |curve| curve.squares);
    let (mut left, mut right) = (low + SECTION * (high - low), high - SECTION * (high - low));
    let (mut of_left, mut of_right) = (squares(left), squares(right));
    for _ in 0..SEARCH_STEPS {
        if of_left < of_right {
            (high, right, of_right) = (right, left, of_left);
            left = low + SECTION * (high - low);
            of_left = squares(left);
        } else {
            (low, left, of_left) = (left, right, of_right);
            right = high - SECTION * (high - low);
            of_right = squares(right);
        }
    }
    at(0.5 * (low + high))
}

/// Weighted least squares of the volume with its top at a given time. The skew goes with the
/// curve's own width, so that is found in a few rounds.
fn curve(seen: &[Seen], top: f64, skew: f64) -> Option<Curve> {
    let mut width: f64 = 0.3;
    let mut found = None;
    for _ in 0..3 {
        let lopsided = skew * width;
        let shape = |t: f64| {
            let x = t - top;
            x * x * (1.0 + lopsided * x.max(0.0))
        };
        let (mut s0, mut s1, mut s2, mut y0, mut y1) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for s in seen {
            let (weight, b) = (1.0 / (s.sigma * s.sigma), shape(s.t));
            s0 += weight;
            s1 += weight * b;
            s2 += weight * b * b;
            y0 += weight * s.volume;
            y1 += weight * b * s.volume;
        }
        let determinant = s0 * s2 - s1 * s1;
        if determinant.is_nan() || determinant <= 1e-12 * s0 * s0 {
            return None;
        }
        let least = (s2 * y0 - s1 * y1) / determinant;
        let bend = (s0 * y1 - s1 * y0) / determinant;
        if least <= 0.0 || bend <= 0.0 {
            return None;
        }
        width = (bend / least).sqrt();
        let squares = seen
            .iter()
            .map(|s| {
                let off = (s.volume - least - bend * shape(s.t)) / s.sigma;
                off * off
            })
            .sum();
        found = Some(Curve {
            least,
            bend,
            top,
            squares,
            variance: s2 / determinant,
        });
    }
    found
}

/// The bank's curves, weighted.
#[derive(Clone, Copy, Debug, Default)]
struct Mix {
    weight: f64,
    least: f64,
    bend: f64,
    top: f64,
    squares: f64,
    variance: f64,
    level: f64,
    level_squares: f64,
}

/// Their mean, and the spread of the level among them.
#[derive(Clone, Copy, Debug)]
struct Mean {
    least: f64,
    bend: f64,
    top: f64,
    squares: f64,
    variance: f64,
    level: f64,
    spread: f64,
}

impl Mix {
    fn push(&mut self, curve: &Curve, level: f64, weight: f64) {
        self.weight += weight;
        self.least += weight * curve.least;
        self.bend += weight * curve.bend;
        self.top += weight * curve.top;
        self.squares += weight * curve.squares;
        self.variance += weight * curve.variance;
        self.level += weight * level;
        self.level_squares += weight * level * level;
    }

    fn finish(&self) -> Option<Mean> {
        let w = self.weight;
        let level = self.level / w;
        if w <= 0.0 || !level.is_finite() {
            return None;
        }
        Some(Mean {
            least: self.least / w,
            bend: self.bend / w,
            top: self.top / w,
            squares: self.squares / w,
            variance: self.variance / w,
            level,
            spread: (self.level_squares / w - level * level).max(0.0).sqrt(),
        })
    }
}
