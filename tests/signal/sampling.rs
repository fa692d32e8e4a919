//! What a slow sample rate cuts off a peak, by the reference cylinder (500 cm³, ratio 10, rod 3.5,
//! intake closing 60° after bottom dead centre, n = 1.3), and what interpolation makes up for.

use crate::synth::{AMBIENT, analyse, cycle, following, peak, runs, samples, settings};
use needlerest::signal::{Flag, Rig};

/// Under-read in per cent, where the samples lie half a step to either side of the peak:
/// polytropic compression in the crank-slider volume (Heywood eq. 2.6; from memory), worked out in
/// `fixtures/engine/tables.py`.
const WORST: [(f64, [f64; 6]); 4] = [
    (150.0, [29.5, 9.1, 2.4, 0.62, 0.10, 0.02]),
    (200.0, [43.6, 15.3, 4.25, 1.09, 0.18, 0.04]),
    (250.0, [55.8, 22.2, 6.5, 1.70, 0.27, 0.07]),
    (300.0, [65.7, 29.5, 9.1, 2.43, 0.40, 0.10]),
];
const RATES: [f64; 6] = [25.0, 50.0, 100.0, 200.0, 500.0, 1000.0];

/// The bound given with each stroke is the table's (`fixtures/engine/tables.py`); the interpolated peak
/// is far closer.
#[test]
fn the_bound_on_the_cut_off_is_the_table_and_interpolation_makes_up_for_it() {
    for (rpm, worst) in WORST {
        for (rate, share) in RATES.iter().zip(worst).skip(1) {
            let period = 120.0 / rpm;
            // A start that is no multiple of the sample period lets the samples fall anywhere.
            let trace = samples(*rate, 9.0 * period + 1.5, 20.0, 5, |t| {
                following(t + 0.002_3, period * 1.001, |_| 1.0, 9)
            });
            let mut settings = settings();
            settings.rig = Some(Rig::Following);
            let run = &runs(&analyse(settings, &trace))[0];
            assert_eq!(run.strokes.len(), 9, "{rpm} rpm, {rate} Hz");
            for stroke in &run.strokes {
                let bound = 100.0 * stroke.cut_off.pa() / peak();
                assert!(
                    (bound / share - 1.0).abs() < 0.35 || (bound - share).abs() < 0.02,
                    "{rpm} rpm, {rate} Hz: bound {bound} %, table {share} %"
                );
                let error = 100.0 * (stroke.peak.pa() / peak() - 1.0);
                assert!(
                    error.abs() < 0.25 * share + 0.05,
                    "{rpm} rpm, {rate} Hz: {error} %, table {share} %"
                );
            }
        }
    }
}

/// An engine loses gas and heat about top dead centre, so that pressure falls faster than it rose.
/// The skew is learnt from the strokes, and the peak found far more closely than the samples lie
/// below it (6.5, 4.25 and 2.4 % half a step away).
#[test]
fn the_skew_of_expansion_is_learnt() {
    // Gas that leaves in proportion to the pressure, as through a choked leak (Heywood app. C;
    // from memory): by 0.4 of what is there in a radian at the peak's pressure.
    const STEP: f64 = 1e-3;
    let mut kept = vec![1.0];
    for i in 0..2000 {
        let through = cycle(f64::from(i) * STEP) / cycle(1.0) * STEP * std::f64::consts::TAU;
        kept.push(kept[i as usize] * libm::exp(-0.4 * through));
    }
    let lossy = |turn: f64| {
        let left = (turn / STEP) as usize;
        let share = turn / STEP - left as f64;
        let kept = kept[left] + share * (kept[left + 1] - kept[left]);
        AMBIENT * (cycle(turn) * kept - 1.0)
    };
    let highest = (0..4000)
        .map(|i| lossy(0.8 + f64::from(i) * 1e-4))
        .fold(0.0, f64::max);
    for (rpm, rate, allowed) in [
        (250.0, 100.0, 1.0),
        (200.0, 100.0, 0.6),
        (300.0, 200.0, 0.25),
    ] {
        let period = 120.0 / rpm * 1.013;
        let trace = samples(rate, 16.0 * period + 1.5, 20.0, 7, |t| {
            let turns = (t - 1.0 + 0.002_3) / period;
            if (0.0..16.0).contains(&turns) {
                lossy((2.0 * turns.fract()).min(1.99))
            } else {
                0.0
            }
        });
        let mut settings = settings();
        settings.rig = Some(Rig::Following);
        let run = &runs(&analyse(settings, &trace))[0];
        assert_eq!(run.strokes.len(), 16, "{rpm} rpm, {rate} Hz");
        for stroke in run.strokes.iter().skip(6) {
            let error = 100.0 * (stroke.peak.pa() / highest - 1.0);
            assert!(error.abs() < allowed, "{rpm} rpm, {rate} Hz: {error} %");
        }
    }
}

/// A rate that can hardly serve: the tool says so, and what it reads is wide enough or nothing.
#[test]
fn a_rate_that_cannot_serve_is_told() {
    for rate in [5.0, 10.0, 25.0] {
        let trace = samples(rate, 14.0, 500.0, 6, |t| following(t, 0.437, |_| 1.0, 24));
        let mut settings = settings();
        settings.rig = Some(Rig::Following);
        let run = &runs(&analyse(settings, &trace))[0];
        let told = |flag: &Flag| matches!(flag, Flag::Undersampled { .. });
        assert!(run.flags.iter().any(told), "{rate} Hz: {:?}", run.flags);
        if let Some(reading) = &run.reading {
            let off = (reading.value.pa() - peak()).abs();
            assert!(off <= reading.expanded.pa(), "{rate} Hz: {reading:?}");
        }
    }
}
