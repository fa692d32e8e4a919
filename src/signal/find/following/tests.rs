//! Peaks of a following rig: both sides of each limit.

use super::*;
use crate::signal::outside::Noise;

const FLOOR: f64 = 2e4;

fn finder() -> Following {
    Following::new(FLOOR, 50.0, 1e5)
}

/// A pulse 0.2 s long about a time, of a height; half of a cosine's wave.
fn pulse(t: f64, at: f64, height: f64) -> f64 {
    let x = (t - at) / 0.1;
    if x.abs() < 1.0 {
        0.5 * height * (1.0 + libm::cos(std::f64::consts::PI * x))
    } else {
        0.0
    }
}

/// What is found at 200 Hz of pulses at their times.
fn found(pulses: &[(f64, f64)]) -> Vec<Found> {
    let mut finder = finder();
    let last = pulses.last().map_or(0.0, |(at, _)| *at);
    let count = ((last + 0.5) * 200.0) as u32;
    (0..count)
        .filter_map(|n| {
            let t = f64::from(n) / 200.0;
            let x = pulses
                .iter()
                .map(|(at, height)| pulse(t, *at, *height))
                .sum();
            finder.push(t, x, false, false)
        })
        .collect()
}

#[test]
fn peaks_are_told_with_their_time_and_height() {
    let strokes = found(&[(0.5, 6e5), (1.0012, 9e5), (1.5, 8e5)]);
    let near = |a: f64, b: f64, within: f64| (a - b).abs() < within;
    assert_eq!(strokes.len(), 3);
    for (stroke, (at, height)) in strokes.iter().zip([(0.5, 6e5), (1.0012, 9e5), (1.5, 8e5)]) {
        assert!(
            near(stroke.time, at, 5e-4) && near(stroke.level, height, 2e-3 * height),
            "{stroke:?}"
        );
        assert!(!stroke.missing && !stroke.clipped && stroke.from == 0.0);
        // A cosine's wave, half a step away: π² / 4 · (2.5 / 100)² of its height.
        let cut_off = height * 2.467 * 0.025 * 0.025;
        assert!(
            near(stroke.cut_off, cut_off, 0.25 * cut_off),
            "{stroke:?} {cut_off}"
        );
    }
    // The highest sample of the second lies 1.2 ms from its top.
    let missed = 9e5 * 2.467 * 0.012 * 0.012;
    assert!(
        near(strokes[1].added, missed, 0.6 * missed),
        "{} {missed}",
        strokes[1].added
    );
}

/// The first by the floor; later ones by 15 % of the usual height too, which follows a rise by half and a weak
/// one by a fifth.
#[test]
fn a_peak_stands_out() {
    let count = |pulses: &[(f64, f64)]| found(pulses).len();
    assert_eq!((count(&[(0.5, 1.99e4)]), count(&[(0.5, 2.01e4)])), (0, 1));
    assert_eq!(count(&[(0.5, 1e6), (1.0, 1.48e5)]), 1);
    assert_eq!(count(&[(0.5, 1e6), (1.0, 1.52e5)]), 2);
    // After 4e5 and 8e5 it is 6e5: from 9e4 on.
    assert_eq!(count(&[(0.5, 4e5), (1.0, 8e5), (1.5, 8.9e4)]), 2);
    assert_eq!(count(&[(0.5, 4e5), (1.0, 8e5), (1.5, 9.2e4)]), 3);
    // After 8e5 and 4e5 it is 7.2e5: from 1.08e5 on.
    assert_eq!(count(&[(0.5, 8e5), (1.0, 4e5), (1.5, 1.06e5)]), 2);
    assert_eq!(count(&[(0.5, 8e5), (1.0, 4e5), (1.5, 1.1e5)]), 3);
}

/// A piston that rocks back and comes again makes one stroke, if the pressure stays above half.
#[test]
fn a_stroke_is_over_below_half() {
    let rocked = |dip: f64| {
        let mut finder = finder();
        let levels = [0.0, 3e5, 7e5, 1e6, 8e5, dip, 7e5, 9e5, 6e5, 3e5, 0.0, 0.0];
        let strokes = levels.iter().enumerate();
        strokes
            .filter_map(|(n, x)| finder.push(0.02 * n as f64, *x, false, false))
            .count()
    };
    assert_eq!((rocked(5.1e5), rocked(4.9e5)), (1, 2));
}

/// Which samples lie about the top, not below a share of it, and one to either side at least.
#[test]
fn the_samples_about_the_top() {
    let levels = [0.0, 1e5, 4e5, 7e5, 9e5, 1e6, 9.5e5, 8e5, 5e5, 2e5];
    let mut finder = finder();
    for (n, x) in levels.iter().enumerate().take(8) {
        finder.push(0.01 * n as f64, *x, false, false);
    }
    assert_eq!(finder.span(0.91), (4, 7));
    assert_eq!(finder.span(0.9), (4, 7));
    assert_eq!(finder.span(0.89), (4, 7));
    assert_eq!(finder.span(0.70), (3, 8));
    assert_eq!(finder.span(0.69), (3, 8));
    assert_eq!(finder.span(0.35), (2, 8));
    assert_eq!(finder.span(0.999), (4, 7), "one to either side");
    assert_eq!(finder.span(0.05), (1, 8));
    assert_eq!(finder.at(5).x, 1e6);
    // What was forgotten is not looked at.
    for n in 0..200 {
        finder.push(0.08 + 0.01 * f64::from(n), 1e6 - f64::from(n), false, false);
    }
    assert_eq!(finder.span(0.5), (80, 208));
}

/// A gap or the end of the range belongs to the stroke in which it is.
#[test]
fn gaps_and_clipping_belong_to_their_stroke() {
    let told = |gap_at: u32, clipped_at: u32| {
        let mut finder = finder();
        (0..300)
            .filter_map(|n| {
                let t = f64::from(n) / 200.0;
                let x = pulse(t, 0.5, 6e5) + pulse(t, 1.0, 6e5);
                finder.push(t, x, n == gap_at, n == clipped_at)
            })
            .map(|stroke| (stroke.missing, stroke.clipped))
            .collect::<Vec<_>>()
    };
    let none = [(false, false), (false, false)];
    // Tops at samples 100 and 200.
    assert_eq!(told(98, 199), [(true, false), (false, true)]);
    assert_eq!(told(104, 203), [(true, false), (false, true)]);
    assert_eq!(told(190, 500), [(false, false), (true, false)]);
    // Between two strokes, on the way down, nothing of a top is missing.
    assert_eq!(told(113, 115), none);
    assert_eq!(told(500, 500), none);
}

/// Samples between two strokes may be passed over: it is then as if each had been taken.
#[test]
fn passing_over_is_the_same_as_taking() {
    let mut noise = Noise(8);
    let (mut passed, mut looked) = (0, 0);
    for round in 0..40 {
        let mut finder = finder();
        let mut n = 0;
        while n < 600 {
            let count = 1 + (noise.uniform() * 16.0) as usize;
            let samples: Vec<(f64, f64)> = (n..n + count)
                .map(|n| n as f64 / 200.0)
                .map(|t| (t, pulse(t % 0.7, 0.35, 8e5) + 4e3 * noise.normal()))
                .collect();
            n += count;
            let low = samples.iter().map(|s| s.1).fold(f64::MAX, f64::min);
            let high = samples.iter().map(|s| s.1).fold(f64::MIN, f64::max);
            let mut at_once = finder.clone();
            let stays = at_once.stays_down(low, high);
            let strokes = samples
                .iter()
                .filter_map(|(t, x)| finder.push(*t, *x, false, false))
                .count();
            looked += 1;
            if stays {
                assert_eq!(strokes, 0);
                at_once.pass_over(samples.into_iter(), low);
                assert_eq!(format!("{at_once:?}"), format!("{finder:?}"), "{round}");
                passed += 1;
            }
        }
    }
    // Down, or at rest after it, for about two thirds of the time.
    assert!(passed * 10 > looked * 4, "{passed} of {looked}");
    // A gap on the way down counts until the pressure falls further.
    let mut finder = finder();
    for (n, x) in [0.0, 5e5, 1e6, 5e5, 1e5].iter().enumerate() {
        finder.push(0.02 * n as f64, *x, false, false);
    }
    finder.push(0.1, 1.1e5, true, false);
    assert!(finder.missing);
    finder.pass_over(std::iter::once((0.12, 1.05e5)), 1.05e5);
    assert!(finder.missing);
    finder.pass_over(std::iter::once((0.14, 0.9e5)), 0.9e5);
    assert!(!finder.missing && finder.lowest == 0.9e5);
    assert!(finder.stays_down(0.9e5, 2.3e5) && !finder.stays_down(0.9e5, 2.5e5));
    assert!(!finder.stays_down(0.7e5, 2.3e5));
}

/// Where enough samples lie above four fifths of a top it is fitted as soon as the pressure is below that: what is
/// missing later is none of it. Of few samples all down to the half are needed.
#[test]
fn what_is_missing_after_the_fit_is_no_matter() {
    let missing = |rate: f64, gap_s: f64| {
        let mut finder = finder();
        let strokes = (0..(rate * 0.8) as u32).filter_map(|n| {
            let t = f64::from(n) / rate;
            let gap = (t - gap_s).abs() < 0.4 / rate;
            finder.push(t, pulse(t, 0.5, 6e5), gap, false)
        });
        strokes.map(|stroke| stroke.missing).collect::<Vec<_>>()
    };
    // 0.04 s after the top 65 % are left, 0.025 s after it 85 %.
    assert_eq!(missing(200.0, 0.54), [false]);
    assert_eq!(missing(200.0, 0.525), [true]);
    assert_eq!(missing(100.0, 0.54), [true]);
}

/// A stroke is over when it has fallen by the floor too, and one that is no higher than that is none, however far
/// below zero it falls.
#[test]
fn small_strokes_are_over_when_they_have_fallen_by_the_floor() {
    let count = |levels: &[f64]| {
        let mut finder = finder();
        let strokes = levels.iter().enumerate();
        strokes
            .filter_map(|(n, x)| finder.push(0.02 * n as f64, *x, false, false))
            .count()
    };
    let rocked = |dip: f64| count(&[0.0, 1.5e4, 3e4, dip, 3e4, 1e4, 0.0, 0.0]);
    assert_eq!(rocked(1.1e4), 1);
    assert_eq!(count(&[0.0, 1.5e4, 3e4, 0.9e4, 3e4, 1e4, 0.0, 0.0]), 2);
    assert_eq!(count(&[0.0, 1.0e4, 1.9e4, 1e4, -1e4, -1e4]), 0);
    assert_eq!(count(&[0.0, 1.0e4, 2.1e4, 1e4, -1e4, -1e4]), 1);
}
