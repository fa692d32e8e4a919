//! Strokes with a leak, followed several abreast.
//!
//! Each step of a stroke waits for its own exponentials; meanwhile the processor can work at those
//! of other strokes. Every stroke goes through the same operations in the same order as if it were
//! alone, so it makes no difference to the result which others are beside it.

use super::Geometry;
use super::flow::nozzle;

/// Integration steps over the stroke; halving the step moves the peak by less than 0.01 %.
const STEPS: usize = 96;
/// The ends of all half steps.
const HALF_STEPS: usize = 2 * STEPS + 1;
/// How far past top dead centre the stroke is followed, radians. The peak is never later.
const PAST_TOP: f64 = 0.05;
/// So many strokes are followed abreast.
const WIDTH: usize = 4;

/// How far a cylinder's volume has shrunk along a stroke: the same for every leak.
#[derive(Debug)]
pub(super) struct Course {
    geometry: Geometry,
    /// Volume when compression begins.
    pub(super) start_m3: f64,
    /// Integration step in radians.
    step: f64,
    /// Logarithm of the volume at the beginning over that at each half step.
    shrunk: [f64; HALF_STEPS],
}

impl Course {
    fn of(geometry: Geometry) -> Self {
        let from = geometry.closing_angle();
        let step = (PAST_TOP - from) / STEPS as f64;
        let start_m3 = geometry.volume_m3(from);
        Self {
            geometry,
            start_m3,
            step,
            shrunk: std::array::from_fn(|half| {
                let angle = from + half as f64 * (step / 2.0);
                libm::log(start_m3 / geometry.volume_m3(angle))
            }),
        }
    }
}

/// Courses that were worked out, one a geometry.
#[derive(Debug, Default)]
pub(super) struct Courses(Vec<Course>);

impl Courses {
    /// Where the course of this geometry is among them.
    pub(super) fn place(&mut self, geometry: Geometry) -> usize {
        let known = self.0.iter().position(|course| course.geometry == geometry);
        known.unwrap_or_else(|| {
            self.0.push(Course::of(geometry));
            self.0.len() - 1
        })
    }

    /// The course at a place.
    pub(super) fn get(&self, place: usize) -> Option<&Course> {
        self.0.get(place)
    }
}

/// A stroke to be followed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Leaky<'c> {
    pub(super) course: &'c Course,
    /// Share of the mass lost a radian at the pressure and temperature of the beginning, with a
    /// nozzle function of 1.
    pub(super) fastest: f64,
    /// Logarithm of the ambient pressure over that at the beginning.
    pub(super) outside: f64,
    /// Polytropic exponent.
    pub(super) exponent: f64,
}

/// Logarithm of the highest density along each stroke, over that at the beginning.
pub(super) fn densest(strokes: &[Leaky<'_>]) -> Vec<f64> {
    let mut found = Vec::with_capacity(strokes.len());
    for some in strokes.chunks(WIDTH) {
        match *some {
            [a] => found.extend(Lanes::of([a]).densest()),
            [a, b] => found.extend(Lanes::of([a, b]).densest()),
            [a, b, c] => found.extend(Lanes::of([a, b, c]).densest()),
            [a, b, c, d] => found.extend(Lanes::of([a, b, c, d]).densest()),
            _ => {}
        }
    }
    found
}

/// Strokes abreast: what is the same all along each of them.
struct Lanes<'c, const N: usize> {
    shrunk: [&'c [f64; HALF_STEPS]; N],
    step: [f64; N],
    fastest: [f64; N],
    outside: [f64; N],
    exponent: [f64; N],
    /// Mean of the exponent and 1.
    half: [f64; N],
}

impl<'c, const N: usize> Lanes<'c, N> {
    fn of(strokes: [Leaky<'c>; N]) -> Self {
        Self {
            shrunk: strokes.map(|stroke| &stroke.course.shrunk),
            step: strokes.map(|stroke| stroke.course.step),
            fastest: strokes.map(|stroke| stroke.fastest),
            outside: strokes.map(|stroke| stroke.outside),
            exponent: strokes.map(|stroke| stroke.exponent),
            half: strokes.map(|stroke| f64::midpoint(stroke.exponent, 1.0)),
        }
    }

    /// Mass, volume and pressure are carried as logarithms of their ratio to those at the start:
    /// the polytropic law is then a product, and one exponential a step is all that is left.
    fn densest(&self) -> [f64; N] {
        let step = self.step;
        let mut mass = [0.0; N];
        let mut best = [f64::NEG_INFINITY; N];
        // Classic fourth-order Runge–Kutta.
        for at in (0..HALF_STEPS - 2).step_by(2) {
            let shrunk = |half: usize| self.shrunk.map(|course| course[half]);
            let (begin, middle, end) = (shrunk(at), shrunk(at + 1), shrunk(at + 2));
            let k1 = self.rates(begin, mass);
            let k2 = self.rates(middle, each(|i| mass[i] + step[i] / 2.0 * k1[i]));
            let k3 = self.rates(middle, each(|i| mass[i] + step[i] / 2.0 * k2[i]));
            let k4 = self.rates(end, each(|i| mass[i] + step[i] * k3[i]));
            for i in 0..N {
                mass[i] += step[i] / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i]);
                best[i] = best[i].max(mass[i] + end[i]);
            }
        }
        best
    }

    /// dm/m a radian, with p/√T being the root of pressure times density.
    fn rates(&self, shrunk: [f64; N], mass: [f64; N]) -> [f64; N] {
        let squeeze: [f64; N] = each(|i| mass[i] + shrunk[i]);
        let flow: [f64; N] = each(|i| nozzle(self.outside[i] - self.exponent[i] * squeeze[i]));
        let dense: [f64; N] = each(|i| libm::exp(self.half[i] * squeeze[i] - mass[i]));
        each(|i| -self.fastest[i] * dense[i] * flow[i])
    }
}

fn each<const N: usize>(of: impl FnMut(usize) -> f64) -> [f64; N] {
    std::array::from_fn(of)
}
