//! The top of a stroke between samples.
//!
//! Near top dead centre the cylinder's volume is a parabola in time, and the pressure is a power
//! of the volume (polytropic compression, p·Vⁿ constant). So `p^(−1/n)` is fitted with
//! `c·(1 + x² + skew·max(x, 0)³)`, `x` being time from the top in units of the stroke's own width.
//! The skew is what the charge loses past the rings and to the walls: pressure falls faster than
//! it rose. It is much the same in all strokes of a run and is learnt from them: a bank of skews
//! is kept, each weighted by how well it fitted so far.

mod search;
#[cfg(test)]
mod tests;

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
/// Rounds in which a curve finds its own width.
const ROUNDS: u32 = 3;

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

/// A value for each skew of the bank.
type Each = [f64; SKEWS.len()];

/// A sample as the fit sees it.
#[derive(Clone, Copy, Debug)]
struct Seen {
    t: f64,
    /// `p^(−1/n)` over that of the highest sample.
    volume: f64,
    /// Its standard deviation.
    sigma: f64,
    /// `1 / sigma²`.
    weight: f64,
}

/// The samples, and the sums that are the same for every curve.
#[derive(Clone, Debug)]
struct Samples {
    seen: Vec<Seen>,
    /// The unit of their times (s), and of their pressures (the absolute pressure of the highest).
    step: f64,
    unit: f64,
    /// So many, in front, come before the top wherever that is: there the skew changes nothing.
    rising: usize,
    /// Of weights, and of weighted volumes.
    weights: f64,
    volumes: f64,
}

/// The fitted curves, one of each skew. All are worked out abreast, which is many times quicker
/// than one after the other.
#[derive(Clone, Copy, Debug)]
struct Curves {
    /// The volume at the top, and how fast it grows with the square of time.
    least: Each,
    bend: Each,
    top: Each,
    /// Weighted sum of squared residuals; infinite where there is no such curve.
    squares: Each,
    /// Variance of `least` at a known top.
    variance: Each,
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
    let Some(samples) = Samples::new(points, highest, ambient, noise) else {
        return as_sampled;
    };
    let Samples { step, unit, .. } = samples;
    let curves = samples.curves(search::least(REACH, |tops| samples.curves(tops).squares));
    if points.len() > 3 {
        skews.learn(&curves.squares);
    }
    let pressure = |volume: f64| unit * libm::pow(volume, -EXPONENT) - ambient;
    let mut mix = Mix::default();
    for (index, weight) in skews.weights().into_iter().enumerate() {
        if let Some(curve) = curves.get(index) {
            mix.push(&curve, pressure(curve.least), weight);
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
    let free = (points.len() as f64 - 3.0).max(1.0);
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

impl Samples {
    /// None if there are too few, or no two at different times.
    fn new(points: &[Point], highest: Point, ambient: f64, noise: f64) -> Option<Self> {
        let step = smallest_step(points, highest);
        if points.len() < 3 || step <= 0.0 {
            return None;
        }
        let absolute = |x: f64| (x + ambient).max(0.05 * ambient);
        let unit = absolute(highest.x);
        let seen = points.iter().map(|point| {
            let volume = libm::pow(absolute(point.x) / unit, -1.0 / EXPONENT);
            // dV/dp brings the noise of the pressure into the volume.
            let noise = noise / (EXPONENT * absolute(point.x)) * volume;
            let model = MODEL * (volume - 1.0);
            let sigma = (noise * noise + model * model + LEAST * LEAST).sqrt();
            Seen {
                t: (point.t - highest.t) / step,
                volume,
                sigma,
                weight: 1.0 / (sigma * sigma),
            }
        });
        let seen: Vec<Seen> = seen.collect();
        let (mut weights, mut volumes) = (0.0, 0.0);
        for s in &seen {
            weights += s.weight;
            volumes += s.weight * s.volume;
        }
        Some(Self {
            rising: seen.iter().take_while(|s| s.t <= -REACH).count(),
            seen,
            step,
            unit,
            weights,
            volumes,
        })
    }

    /// Weighted least squares of the volume with each curve's top at a given time. The skew goes
    /// with the curve's own width, so that is found in a few rounds.
    fn curves(&self, top: Each) -> Curves {
        let mut width: Each = [0.3; SKEWS.len()];
        let mut sound = [true; SKEWS.len()];
        let (mut least, mut bend, mut variance) = (NONE, NONE, NONE);
        let mut lopsided = NONE;
        let (rising, others) = self.seen.split_at(self.rising);
        let mut of_rising = Sums::default();
        for s in rising {
            of_rising.add(s, each(|i| squared(s.t - top[i])));
        }
        for _ in 0..ROUNDS {
            lopsided = each(|i| SKEWS[i] * width[i]);
            let mut sums = of_rising;
            for s in others {
                sums.add(s, each(|i| shape(s.t - top[i], lopsided[i])));
            }
            let Sums { s1, s2, y1 } = sums;
            let (s0, y0) = (self.weights, self.volumes);
            let determinant = each(|i| s0 * s2[i] - s1[i] * s1[i]);
            least = each(|i| (s2[i] * y0 - s1[i] * y1[i]) / determinant[i]);
            bend = each(|i| (s0 * y1[i] - s1[i] * y0) / determinant[i]);
            variance = each(|i| s2[i] / determinant[i]);
            width = each(|i| (bend[i] / least[i]).sqrt());
            for (i, sound) in sound.iter_mut().enumerate() {
                *sound &= determinant[i] > 1e-12 * s0 * s0 && least[i] > 0.0 && bend[i] > 0.0;
            }
        }
        let mut squares = NONE;
        let mut add = |s: &Seen, b: Each| {
            let off = each(|i| (s.volume - least[i] - bend[i] * b[i]) / s.sigma);
            squares = each(|i| squares[i] + off[i] * off[i]);
        };
        for s in rising {
            add(s, each(|i| squared(s.t - top[i])));
        }
        for s in others {
            add(s, each(|i| shape(s.t - top[i], lopsided[i])));
        }
        Curves {
            least,
            bend,
            top,
            squares: each(|i| if sound[i] { squares[i] } else { f64::INFINITY }),
            variance,
        }
    }
}

const NONE: Each = [0.0; SKEWS.len()];

fn each(of: impl FnMut(usize) -> f64) -> Each {
    std::array::from_fn(of)
}

/// How the volume grows with time from the top, …
fn shape(x: f64, lopsided: f64) -> f64 {
    let after = if x > 0.0 { x } else { 0.0 };
    squared(x) * (1.0 + lopsided * after)
}

/// … and before it.
fn squared(x: f64) -> f64 {
    x * x
}

/// Sums of the linear fit, weighted: of the shape, of its square, and of it times the volume.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    s1: Each,
    s2: Each,
    y1: Each,
}

impl Sums {
    fn add(&mut self, seen: &Seen, b: Each) {
        let weighted = each(|i| seen.weight * b[i]);
        self.s1 = each(|i| self.s1[i] + weighted[i]);
        self.s2 = each(|i| self.s2[i] + weighted[i] * b[i]);
        self.y1 = each(|i| self.y1[i] + weighted[i] * seen.volume);
    }
}

/// One of the curves.
#[derive(Clone, Copy, Debug)]
struct Curve {
    least: f64,
    bend: f64,
    top: f64,
    squares: f64,
    variance: f64,
}

impl Curves {
    fn get(&self, index: usize) -> Option<Curve> {
        let curve = Curve {
            least: self.least[index],
            bend: self.bend[index],
            top: self.top[index],
            squares: self.squares[index],
            variance: self.variance[index],
        };
        (curve.squares < f64::INFINITY).then_some(curve)
    }
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
