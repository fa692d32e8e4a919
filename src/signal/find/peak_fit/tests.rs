//! The top between samples, against SciPy and against its own scatter.

use super::*;
use crate::signal::outside::{Noise, alike, kept, mean_and_rms};

fn points(of: &[(f64, f64)]) -> (Vec<Point>, Point) {
    let points: Vec<Point> = of.iter().map(|(t, x)| Point { t: *t, x: *x }).collect();
    let highest = points
        .iter()
        .copied()
        .max_by(|a, b| a.x.total_cmp(&b.x))
        .unwrap();
    (points, highest)
}

/// `fixtures/signal/arithmetic.py`: each curve of the bank by a library's least squares, its top by a library's
/// search; what the strokes say of the skew goes on from one to the next.
#[test]
fn the_top_is_that_of_scipy() {
    for case in kept().tops {
        let mut skews = Skews::new();
        for (stroke, theirs) in case.strokes.iter().zip(&case.tops) {
            let (points, highest) = points(stroke);
            let ours = top(&points, highest, 101_325.0, case.noise, &mut skews);
            let name = format!("{}: {ours:?}", case.name);
            // A search of 22 steps ends within some 1e-5 of the time between samples.
            assert!(
                (ours.time - theirs.time).abs() < 2e-7,
                "{name}, {}",
                theirs.time
            );
            alike(ours.level, theirs.level, 5e-6, &name);
            alike(ours.standard, theirs.standard, 1e-4, &name);
            alike(ours.bias, theirs.bias, 1e-3, &name);
            alike(ours.cut_off, theirs.cut_off, 1e-4, &name);
        }
    }
}

/// Gauge pressure at `x` widths from the top of a stroke of 1400 kPa that is the curve itself.
fn stroke(x: f64, skew: f64) -> f64 {
    let after = x.max(0.0);
    1.5e6 * libm::pow(1.0 + x * x + skew * after * after * after, -EXPONENT) - 1e5
}

/// Samples of [`stroke`], whose width is `width` (s), from which on they lie `shift` (s) late.
fn sampled(rate: f64, width: f64, shift: f64, skew: f64, noise: impl FnMut() -> f64) -> Vec<Point> {
    let mut noise = noise;
    let reach = (0.35 * width * rate).ceil().max(1.0) as i32;
    (-reach..=reach)
        .map(|n| {
            let t = f64::from(n) / rate + shift;
            Point {
                t,
                x: stroke(t / width, skew) + noise(),
            }
        })
        .collect()
}

/// Strokes that are the curve itself are found wherever the samples fall, at any rate that leaves three of
/// them on the top, whatever the skew, once it is learnt; what is added to the highest sample is what is
/// missing, and half a step from the top a sample lies lower by what is told as the cut-off.
#[test]
fn a_stroke_of_the_curve_is_found_between_samples() {
    for (rate, skew, within) in [
        (400.0, 0.5, 2e-5),
        (100.0, 0.0, 5e-4),
        (100.0, 1.5, 1e-3),
        (50.0, 0.5, 4e-3),
    ] {
        let (width, mut skews) = (0.06, Skews::new());
        for n in 0..24 {
            let shift = (f64::from(n) * 0.381).fract() / rate - 0.5 / rate;
            let points = sampled(rate, width, shift, skew, || 0.0);
            let highest = points
                .iter()
                .copied()
                .max_by(|a, b| a.x.total_cmp(&b.x))
                .unwrap();
            let top = top(&points, highest, 1e5, 0.0, &mut skews);
            if n < 8 {
                continue;
            }
            let what = format!("{rate} Hz, {skew}, {shift}: {top:?}");
            assert!((top.level / 1.4e6 - 1.0).abs() < within, "{what}");
            assert!(top.time.abs() < 0.05 / rate, "{what}");
            let least = stroke(-0.5 / rate / width, skew).min(stroke(0.5 / rate / width, skew));
            assert!(
                (top.cut_off / (1.4e6 - least) - 1.0).abs() < 0.2,
                "{what}: {least}"
            );
            assert!(
                (top.level - 1.4e6).abs() < 2.5 * libm::hypot(top.bias, top.standard),
                "{what}"
            );
        }
    }
}

/// Noise: what is found scatters about the truth by no more than is stated, and by half of it at least, at
/// any rate: the stated doubt is never below half the noise, however many samples lie about a top, and
/// holds what the shape leaves.
#[test]
fn the_top_scatters_as_it_says() {
    for (rate, noise) in [
        (25.0, 1500.0),
        (100.0, 1500.0),
        (100.0, 8000.0),
        (400.0, 1500.0),
        (400.0, 8000.0),
    ] {
        let mut source = Noise(rate as u64);
        let mut skews = Skews::new();
        let mut off = Vec::new();
        for n in 0..400 {
            let shift = (f64::from(n) * 0.381_966).fract() / rate - 0.5 / rate;
            let points = sampled(rate, 0.12, shift, 0.6, || noise * source.normal());
            let highest = points
                .iter()
                .copied()
                .max_by(|a, b| a.x.total_cmp(&b.x))
                .unwrap();
            let top = top(&points, highest, 1e5, noise, &mut skews);
            if n > 20 {
                off.push((top.level - 1.4e6) / libm::hypot(top.standard, top.bias));
            }
        }
        let (mean, rms) = mean_and_rms(&off);
        let what = format!("{rate} Hz, {noise} Pa: {mean} {rms}");
        assert!(mean.abs() < 0.3 && (0.5..1.0).contains(&rms), "{what}");
    }
}

/// Too few samples, or none at another time, or a fit that leads far beyond them: the highest sample
/// stands, with the doubt of a top that nobody saw.
#[test]
fn what_cannot_be_fitted_is_read_as_sampled() {
    let read = |of: &[(f64, f64)]| {
        let (points, highest) = points(of);
        top(&points, highest, 1e5, 70.0, &mut Skews::new())
    };
    let as_sampled = |time, level| Top {
        time,
        level,
        standard: 70.0,
        bias: 0.3 * level,
        cut_off: level,
    };
    assert_eq!(read(&[(1.0, 5e5), (1.1, 9e5)]), as_sampled(1.1, 9e5));
    assert_eq!(
        read(&[(1.0, 5e5), (1.0, 9e5), (1.0, 4e5)]),
        as_sampled(1.0, 9e5)
    );
    assert_eq!(
        read(&[(1.0, 9e5), (1.1, 9e5), (1.2, 9e5)]),
        as_sampled(1.2, 9e5)
    );
    // A single sample between two at rest may have been any part of a stroke.
    assert_eq!(
        read(&[(1.0, 0.0), (1.1, 9e5), (1.2, 8e5)]),
        as_sampled(1.1, 9e5)
    );
    // A level at rest below zero is no stroke to lose anything of.
    assert_eq!(read(&[(1.0, -60.0), (1.1, -50.0)]).bias, 0.0);
}

/// Whatever the fit says, noise alone puts no peak further below its highest sample than two of its
/// standard deviations.
#[test]
fn a_top_is_not_below_its_highest_sample() {
    let mut stroke: Vec<Point> = sampled(400.0, 0.12, 0.0, 0.6, || 0.0);
    let middle = stroke.len() / 2;
    stroke[middle].x += 30_000.0;
    let top = top(&stroke, stroke[middle], 1e5, 500.0, &mut Skews::new());
    assert_eq!(top.level, stroke[middle].x - 1000.0);
    assert!(top.bias > 2.0 * top.standard, "it does not fit: {top:?}");
}
