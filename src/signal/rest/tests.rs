//! Level and noise at rest, against NumPy and against their own scatter.

use super::*;
use crate::signal::outside::{Noise, alike, kept, mean_and_rms};

fn rest(samples: impl IntoIterator<Item = (f64, f64)>) -> Rest {
    let mut rest = Rest::default();
    for (t, x) in samples {
        rest.push(t, x);
    }
    rest
}

/// `fixtures/signal/arithmetic.py`: a library's weighted means and variances, with and without drift.
#[test]
fn level_doubt_and_noise_are_those_of_numpy() {
    for case in kept().rests {
        let said = rest(case.samples).level(0.0).unwrap();
        alike(said.level, case.level, 1e-10, &case.name);
        alike(said.noise, case.noise, 1e-9, &case.name);
        alike(said.standard, case.standard, 1e-7, &case.name);
    }
}

/// A resolution that is coarser than the noise leaves its own.
#[test]
fn the_noise_is_no_smaller_than_the_floor() {
    let samples = || (0..200).map(|n| (0.01 * f64::from(n), f64::from(n % 2)));
    let fine = rest(samples()).level(0.0).unwrap();
    // Neighbours differ by 1: sqrt(1 / 2).
    alike(fine.noise, 0.5_f64.sqrt(), 1e-12, "noise");
    let coarse = rest(samples()).level(30.0).unwrap();
    assert_eq!((coarse.noise, coarse.level), (30.0, fine.level));
    alike(
        coarse.standard / fine.standard,
        30.0 / fine.noise,
        1e-9,
        "doubt",
    );
}

/// At rest, at any rate of samples: noise and level are what they should be, and the level scatters about
/// the truth by no more than is stated, which is up to half too large: chunks that fade count as fewer than
/// they are worth.
#[test]
fn the_level_scatters_as_it_says() {
    for rate in [25.0, 100.0, 400.0_f64] {
        let mut source = Noise(rate as u64 + 3);
        let (mut off, mut noises) = (Vec::new(), Vec::new());
        for _ in 0..300 {
            let samples: Vec<(f64, f64)> = (0..(2.5 * rate) as u32)
                .map(|n| (f64::from(n) / rate, 700.0 + 400.0 * source.normal()))
                .collect();
            let said = rest(samples).level(0.0).unwrap();
            off.push((said.level - 700.0) / said.standard);
            noises.push(said.noise / 400.0 - 1.0);
        }
        let (mean, rms) = mean_and_rms(&off);
        let (noise, _) = mean_and_rms(&noises);
        assert!(
            mean.abs() < 0.2 && (0.6..1.0).contains(&rms),
            "{rate} Hz: {mean} {rms}"
        );
        assert!(noise.abs() < 0.03, "{rate} Hz: {noise}");
    }
}

/// Two chunks are kept back; the level is known once what is left was watched for 0.3 s.
#[test]
fn it_is_settled_after_it_was_watched_long_enough() {
    // Samples 0.125 s apart: a chunk has three and lasts 0.375 s, to where the next one begins.
    let seen = |n| rest((0..n).map(|n| (0.125 * f64::from(n), 5.0)));
    assert!(!seen(6).settled());
    assert_eq!(seen(6).level(0.0), None);
    assert!(
        seen(7).settled(),
        "the third chunk begins: the first counts"
    );
}

/// The end of a bleed is no rest: what is lower by more than three standard deviations begins anew, what
/// is a little lower is a drift.
#[test]
fn a_bleed_that_ends_is_no_rest() {
    let level = |fall: f64| {
        let mut source = Noise(9);
        let samples = (0..300).map(|n| {
            let step = if n < 150 { fall } else { 0.0 };
            (0.01 * f64::from(n), step + 10.0 * source.normal())
        });
        rest(samples.collect::<Vec<_>>()).level(0.0).unwrap()
    };
    let (bled, drifted) = (level(200.0), level(18.0));
    assert!(bled.level.abs() < 3.0 && bled.standard < 3.0, "{bled:?}");
    assert!(drifted.level > 0.5 && drifted.standard > 1.2, "{drifted:?}");
}

/// What the next sample is compared with: the chunk that waits, or the one in hand where none does yet; a
/// noise known from fewer than five differences is mixed with what is doubted.
#[test]
fn so_far_is_told_from_the_first_sample_on() {
    let mut rest = Rest::default();
    assert_eq!(rest.so_far(10.0), None);
    rest.push(0.0, 4.0);
    assert_eq!(rest.so_far(10.0), Some((4.0, 10.0)));
    rest.push(0.05, 8.0);
    // One difference, of 4, and four doubted: sqrt((4² / 2 + 4 · 10²) / 5).
    let (level, noise) = rest.so_far(10.0).unwrap();
    assert_eq!(level, 6.0);
    alike(noise, (408.0_f64 / 5.0).sqrt(), 1e-12, "noise");
    for (t, x) in [(0.1, 4.0), (0.15, 8.0), (0.2, 4.0), (0.25, 8.0), (0.3, 4.0)] {
        rest.push(t, x);
    }
    // The first chunk, of five samples, waits; the second one holds two.
    let (level, noise) = rest.so_far(10.0).unwrap();
    alike(level, 28.0 / 5.0, 1e-12, "level");
    alike(
        noise,
        ((0.5 * 4.0 * 16.0 + 100.0) / 5.0_f64).sqrt(),
        1e-12,
        "noise",
    );
    for n in 7..40 {
        rest.push(0.05 * f64::from(n), if n % 2 == 0 { 4.0 } else { 8.0 });
    }
    // Enough differences: each of them 4, and nothing doubted.
    let (_, noise) = rest.so_far(1e6).unwrap();
    alike(noise, 8.0_f64.sqrt(), 1e-12, "noise");
    let known = rest.level(0.0).unwrap();
    assert_eq!(rest.so_far(0.0).unwrap().0, known.level);
}

/// A chunk lower than the level by three standard deviations of its own samples begins anew: both sides, of
/// samples by turns 20 above and below, whose neighbours differ by 40. Where a chunk has too few samples to know
/// its noise, or nothing came before it, nothing begins anew.
#[test]
fn three_standard_deviations_begin_anew() {
    let noise = 40.0 / 2.0_f64.sqrt();
    let after = |fall: f64, rate: f64| {
        let rest = rest((0..(2.0 * rate) as u32).map(|n| {
            let t = f64::from(n) / rate;
            let level = if t < 135.0 / 128.0 {
                5000.0
            } else {
                5000.0 - fall
            };
            (t, level + if n % 2 == 0 { 20.0 } else { -20.0 })
        }));
        (rest.mean, rest.kept)
    };
    // At 128 Hz a chunk has 27 samples: five of them before the fall.
    let (anew, goes_on) = (after(3.2 * noise, 128.0), after(2.7 * noise, 128.0));
    assert!(
        (anew.0 - 5000.0 + 3.2 * noise).abs() < 3.0 && anew.1 < 2.5,
        "{anew:?}"
    );
    assert!(
        goes_on.0 > 5000.0 - 2.5 * noise && goes_on.1 > 3.0,
        "{goes_on:?}"
    );
    let slow = after(9.0 * noise, 16.0);
    assert!(slow.1 > 2.0, "four samples a chunk: {slow:?}");
    // Below zero at the first is not lower than anything.
    let first = rest((0..128).map(|n| (f64::from(n) / 128.0, -5000.0)));
    assert!(first.settled() && first.kept > 1.5);
}

/// Rest counts from 0.3 s of it on, and two samples that follow each other.
#[test]
fn a_single_chunk_that_is_long_enough_settles() {
    let mut rest = Rest::default();
    for t in [0.0, 0.4, 0.8, 1.2, 1.6] {
        rest.push(t, 1.0);
    }
    // Chunks of two samples, the first from 0 to 0.8 s.
    assert!(rest.settled());
    let level = rest.level(0.0).unwrap();
    assert_eq!((level.level, level.noise, level.standard), (1.0, 0.0, 0.0));
}
