//! The fall of a held level, against SciPy and against its own scatter.

use super::*;
use crate::signal::outside::{Noise, alike, kept, mean_and_rms};

fn watched(stretches: &[Vec<(f64, f64)>]) -> DroopWatch {
    let mut watch = DroopWatch::default();
    for stretch in stretches {
        for (t, x) in stretch {
            watch.push(*t, *x);
        }
        watch.interrupt();
    }
    watch
}

/// `fixtures/signal/arithmetic.py`: SciPy's `linregress` of means of a quarter of a second, and NumPy's
/// least squares with a level for each stretch.
#[test]
fn slope_and_its_doubt_are_those_of_scipy() {
    for case in kept().droops {
        let watch = watched(&case.stretches);
        let droop = watch.droop(0.0, 0.0).unwrap();
        alike(droop.per_second.pa(), case.per_second, 1e-7, &case.name);
        alike(
            droop.per_second_standard.pa(),
            case.standard,
            1e-6,
            &case.name,
        );
        alike(droop.watched.s(), case.chunks * CHUNK_S, 1e-12, &case.name);
        // A sample's noise, where it leaves more than the scatter, counts as that of a chunk's mean; a step
        // of the sensor that is larger as it is.
        let noisy = watch.droop(1e5, 0.0).unwrap();
        let of_a_chunk = 1e5 * (case.chunks / case.samples).sqrt();
        let expected = of_a_chunk * case.standard_of_unit_noise;
        alike(noisy.per_second_standard.pa(), expected, 1e-6, &case.name);
        let coarse = watch.droop(1e5, 2e5).unwrap();
        let expected = 2e5 * case.standard_of_unit_noise;
        alike(coarse.per_second_standard.pa(), expected, 1e-6, &case.name);
        assert_eq!(noisy.per_second, droop.per_second);
    }
}

/// A level of 8 Hz: chunks of three samples, 0.375 s apart, from 1.25 s on.
fn coarse(chunks: usize, from: f64) -> Vec<(f64, f64)> {
    (0..10 + 3 * chunks)
        .map(|n| (from + 0.125 * n as f64, 1e6 - 100.0 * n as f64))
        .collect()
}

/// Three chunks at least; the last whole one and what came after it are left out.
#[test]
fn a_fall_is_told_from_three_chunks_on() {
    assert_eq!(watched(&[coarse(3, 0.0)]).droop(1.0, 0.0), None);
    let droop = watched(&[coarse(4, 0.0)]).droop(1.0, 0.0).unwrap();
    alike(droop.per_second.pa(), 800.0, 1e-9, "fall");
    assert_eq!(droop.watched, Time::from_s(3.0 * CHUNK_S));
    // Two stretches of two: of each only how it falls counts, and four chunks suffice.
    let droop = watched(&[coarse(3, 0.0), coarse(3, 9.0)])
        .droop(1.0, 0.0)
        .unwrap();
    alike(droop.per_second.pa(), 800.0, 1e-9, "fall");
    assert_eq!(droop.watched, Time::from_s(4.0 * CHUNK_S));
    // A single chunk says nothing of a fall, however many there are.
    let singles: Vec<_> = (0..5).map(|n| coarse(2, 9.0 * f64::from(n))).collect();
    assert_eq!(watched(&singles).droop(1.0, 0.0), None);
}

/// Gas that cools in the first 1.2 s is no leak.
#[test]
fn what_comes_before_the_calm_does_not_count() {
    let mut stretch = coarse(6, 0.0);
    for (_, x) in stretch.iter_mut().take_while(|(t, _)| *t < CALM_S) {
        *x += 3e5;
    }
    let droop = watched(&[stretch]).droop(1.0, 0.0).unwrap();
    alike(droop.per_second.pa(), 800.0, 1e-9, "fall");
}

/// At any rate of samples what is told scatters about the truth by what is stated, or by a little less: the
/// scatter about the line counts where that is more than the noise leaves.
#[test]
fn the_fall_scatters_as_it_says() {
    for rate in [25.0, 50.0, 100.0, 400.0_f64] {
        let mut source = Noise(rate as u64);
        let off = |_| {
            let stretch: Vec<(f64, f64)> = (0..(5.0 * rate) as u32)
                .map(|n| f64::from(n) / rate)
                .map(|t| (t, 1.2e6 - 3000.0 * t + 800.0 * source.normal()))
                .collect();
            let droop = watched(&[stretch]).droop(800.0, 0.0).unwrap();
            (droop.per_second.pa() - 3000.0) / droop.per_second_standard.pa()
        };
        let (mean, rms) = mean_and_rms(&(0..400).map(off).collect::<Vec<_>>());
        assert!(
            mean.abs() < 0.2 && (0.8..1.05).contains(&rms),
            "{rate} Hz: {mean} {rms}"
        );
    }
}
