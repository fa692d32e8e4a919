//! Sums of squares of all curves from sums of powers of time, which are made once a stroke: then a
//! look costs the same however many samples there are.
//!
//! With `x` the time from the top and `s` the skew times the width, a curve's shape is
//! `x² + s·x³`, the cube after the top only. Its weighted sums, and those of its square, are sums
//! of powers of `x`: polynomials in the time of the top. Which samples come after the top depends
//! on where it is for the highest sample only, which stands at time 0.

use super::{Each, NONE, ROUNDS, SKEWS, Seen};

/// A determinant, or a bend, that is a smaller share than this of what it is the difference of, may
/// be rounding.
const SURE: f64 = 1e-9;

/// A polynomial in the time that is subtracted from all samples, by falling powers.
type Polynomial<const N: usize> = [f64; N];

/// The sums. Volumes count from that of the highest sample, 1, which keeps their sums small.
#[derive(Clone, Copy, Debug)]
pub(super) struct Powers {
    /// Of all samples: weights, volumes, their squares.
    weights: f64,
    volumes: f64,
    squares: f64,
    /// Of all: second and fourth power, and the second times the volume.
    second: Polynomial<3>,
    fourth: Polynomial<5>,
    volume_second: Polynomial<3>,
    /// Of those after the highest: the higher ones.
    third: Polynomial<4>,
    fifth: Polynomial<6>,
    sixth: Polynomial<7>,
    volume_third: Polynomial<4>,
    /// Of the highest.
    highest: f64,
    highest_volume: f64,
}

impl Powers {
    pub(super) fn new(seen: &[Seen]) -> Self {
        let mut all = [0.0; 5];
        let mut all_volume = [0.0; 3];
        let mut after = [0.0; 7];
        let mut after_volume = [0.0; 4];
        let (mut squares, mut highest, mut highest_volume) = (0.0, 0.0, 0.0);
        for s in seen {
            let volume = s.volume - 1.0;
            let weighted = s.weight * volume;
            squares += weighted * volume;
            add_powers(&mut all, s.weight, s.t);
            add_powers(&mut all_volume, weighted, s.t);
            if s.t > 0.0 {
                add_powers(&mut after, s.weight, s.t);
                add_powers(&mut after_volume, weighted, s.t);
            } else if s.t == 0.0 {
                highest += s.weight;
                highest_volume += weighted;
            }
        }
        Self {
            weights: all[0],
            volumes: all_volume[0],
            squares,
            second: moved(&all),
            fourth: moved(&all),
            volume_second: moved(&all_volume),
            third: moved(&after),
            fifth: moved(&after),
            sixth: moved(&after),
            volume_third: moved(&after_volume),
            highest,
            highest_volume,
        }
    }

    /// Weighted sums of squared residuals of the curves with these tops, to about ten digits; not
    /// a number where there may be no such curve.
    pub(super) fn squares(&self, top: Each) -> Each {
        let mut squares = NONE;
        for ((squares, top), skew) in squares.iter_mut().zip(top).zip(SKEWS) {
            *squares = self.of_curve(top, skew);
        }
        squares
    }

    #[inline]
    fn of_curve(&self, top: f64, skew: f64) -> f64 {
        let by = -top;
        let after = by.max(0.0);
        let (square, cube) = (after * after, after * after * after);
        let second = at(&self.second, by);
        let third = at(&self.third, by) + self.highest * cube;
        let fourth = at(&self.fourth, by);
        let fifth = at(&self.fifth, by) + self.highest * (cube * square);
        let sixth = at(&self.sixth, by) + self.highest * (cube * cube);
        let volume_second = at(&self.volume_second, by);
        let volume_third = at(&self.volume_third, by) + self.highest_volume * cube;
        let (s0, y0) = (self.weights, self.volumes);
        let mut width = 0.3;
        // Nothing, or not a number: as one more summand it is quicker than a decision.
        let mut doubt = 0.0;
        let (mut determinant, mut explained) = (0.0, 0.0);
        for _ in 0..ROUNDS {
            let lopsided = skew * width;
            let s1 = second + lopsided * third;
            let s2 = fourth + lopsided * (2.0 * fifth + lopsided * sixth);
            let y1 = volume_second + lopsided * volume_third;
            // The determinant times the least volume, less 1, and times the bend.
            let rise = s2 * y0 - s1 * y1;
            let bend = s0 * y1 - s1 * y0;
            determinant = s0 * s2 - s1 * s1;
            explained = rise * y0 + bend * y1;
            let least = determinant + rise;
            doubt += unless(determinant > SURE * s0 * s2);
            doubt += unless(least > SURE * determinant);
            doubt += unless(bend > SURE * s0 * s1);
            width = (bend / least).sqrt();
        }
        self.squares - explained / determinant + doubt
    }
}

/// Not a number, unless it is sure.
fn unless(sure: bool) -> f64 {
    if sure { 0.0 } else { f64::NAN }
}

/// Adds `weight` times the powers of `t`, from 0.
fn add_powers<const N: usize>(sums: &mut [f64; N], weight: f64, t: f64) {
    let mut power = weight;
    for sum in sums {
        *sum += power;
        power *= t;
    }
}

/// From sums of powers: the sum of the (N − 1)th power of `t + by`, as a polynomial in `by`.
fn moved<const N: usize>(sums: &[f64]) -> Polynomial<N> {
    let mut choose = 1.0;
    std::array::from_fn(|j| {
        let coefficient = choose * sums[j];
        choose = choose * (N - 1 - j) as f64 / (j + 1) as f64;
        coefficient
    })
}

/// Horner's scheme.
fn at<const N: usize>(polynomial: &Polynomial<N>, by: f64) -> f64 {
    let terms = polynomial.iter();
    terms.fold(0.0, |value, coefficient| value * by + coefficient)
}
