//! Steps of held levels: heights, doubts and both sides of each limit.

use super::*;
use crate::signal::outside::{Noise, alike, mean_and_rms};

/// What is found in samples at a rate for so long (s).
fn found(
    finder: &mut Holding,
    rate: f64,
    length: f64,
    level: impl FnMut(f64) -> f64,
) -> Vec<Found> {
    let mut level = level;
    let count = (rate * length).round() as u32;
    (0..count)
        .map(|n| f64::from(n) / rate)
        .filter_map(|t| finder.push(t, level(t), false, false))
        .collect()
}

/// Steps up to a level at given times, from nothing.
fn stairs(steps: &[(f64, f64)]) -> impl Fn(f64) -> f64 + use<> {
    let steps = steps.to_vec();
    move |t| {
        steps
            .iter()
            .rev()
            .find(|(at, _)| t >= *at)
            .map_or(0.0, |(_, level)| *level)
    }
}

fn at_100_hz(noise: f64, least: f64) -> Holding {
    Holding::new(0.0, noise, least, 0.01)
}

/// Without noise in the samples a step is what it is, and its doubt that of the mean of its blocks, as many
/// as reach beyond 30 ms: five samples at 128 Hz; at 1024 Hz, in blocks of four, one and eight after it.
#[test]
fn a_step_is_told_as_it_is() {
    for (rate, blocks, per_block) in [(128.0, 5.0, 1.0), (1024.0, 9.0, 4.0), (16.0, 2.0, 1.0)] {
        let mut finder = Holding::new(0.0, 300.0, 0.0, 1.0 / rate);
        let strokes = found(&mut finder, rate, 3.0, stairs(&[(1.0, 6e5), (2.0, 9e5)]));
        assert_eq!(strokes.len(), 2, "{rate} Hz");
        let told: Vec<(f64, f64)> = strokes.iter().map(|s| (s.from, s.level)).collect();
        alike(told[0].1, 6e5, 1e-9, "level");
        assert!(told[0].0.abs() < 1e-6);
        alike(told[1].0, 6e5, 1e-9, "from");
        alike(told[1].1, 9e5, 1e-9, "level");
        assert_eq!(finder.highest(), strokes[1].level);
        for (stroke, at) in strokes.iter().zip([1.0, 2.0]) {
            assert!(
                (stroke.time - at).abs() < per_block / rate,
                "{rate} Hz: {}",
                stroke.time
            );
            alike(
                stroke.standard,
                300.0 / (per_block * blocks).sqrt(),
                1e-9,
                "doubt",
            );
            assert_eq!((stroke.bias, stroke.cut_off, stroke.added), (0.0, 0.0, 0.0));
        }
    }
}

/// Noise: the level after a step scatters about the truth by what is stated. The step is taken to end at its
/// highest block, which lies above the truth, so that the mean lies there too, by half of it at most.
#[test]
fn the_level_scatters_as_it_says() {
    for rate in [25.0, 100.0, 400.0] {
        for noise in [400.0, 4000.0] {
            let mut source = Noise(rate as u64 + noise as u64);
            let mut off = Vec::new();
            for _ in 0..400 {
                let mut finder = Holding::new(0.0, noise, 0.0, 1.0 / rate);
                let level = stairs(&[(0.5, 8e5)]);
                let strokes = found(&mut finder, rate, 1.2, |t| {
                    level(t) + noise * source.normal()
                });
                assert_eq!(strokes.len(), 1, "{rate} Hz, {noise} Pa");
                off.push((strokes[0].level - 8e5) / strokes[0].standard);
            }
            let (mean, rms) = mean_and_rms(&off);
            let what = format!("{rate} Hz, {noise} Pa: {mean} {rms}");
            assert!(
                (0.0..0.65).contains(&mean) && (0.9..1.25).contains(&rms),
                "{what}"
            );
        }
    }
}

/// The smallest step that is found in samples without noise, by what it is measured against.
fn smallest(noise: f64, least: f64, measure: impl Fn(&Found) -> f64) -> f64 {
    (1..400)
        .flat_map(|n| {
            let height = 300.0 * libm::pow(1.02, f64::from(n)).min(1e5);
            let mut finder = Holding::new(0.0, noise, least, 0.01);
            found(
                &mut finder,
                100.0,
                4.0,
                stairs(&[(1.0, 1e6), (2.0, 1e6 + height)]),
            )
            .split_off(1)
        })
        .map(|stroke| measure(&stroke))
        .fold(f64::INFINITY, f64::min)
}

/// Nothing is a step that is below 4.5 standard errors, 1.6 steps of the sensor or 0.18 % of the level; what
/// is a little larger is one.
#[test]
fn the_smallest_steps() {
    let share = smallest(1.0, 0.0, |s| (s.level - s.from) / s.level);
    assert!((0.0018..0.00186).contains(&share), "{share}");
    let steps = smallest(1.0, 3000.0, |s| (s.level - s.from) / 3000.0);
    assert!((1.6..1.65).contains(&steps), "{steps}");
    // The level before rests on twelve blocks.
    let errors = smallest(2000.0, 0.0, |s| {
        (s.level - s.from) / libm::hypot(s.standard, 2000.0 / 12.0_f64.sqrt())
    });
    assert!((4.5..5.0).contains(&errors), "{errors}");
}

/// Held for long, at any noise, a level makes no stroke; nor does one that falls, evenly or ever more slowly.
#[test]
fn noise_and_falls_make_no_stroke() {
    for (rate, noise) in [(25.0, 300.0), (100.0, 3000.0), (400.0, 3000.0)] {
        let levels: [fn(f64) -> f64; 3] = [
            |_| 1e6,
            |t| 1e6 - 4000.0 * t,
            |t| 9e5 + 1e5 * libm::exp(-t / 2.0),
        ];
        for level in levels {
            let mut source = Noise(7);
            let mut finder = Holding::new(level(0.0), noise, 0.0, 1.0 / rate);
            let strokes = found(&mut finder, rate, 40.0, |t| {
                level(t) + noise * source.normal()
            });
            assert_eq!(strokes, [], "{rate} Hz");
        }
    }
}

/// A level that falls is followed: a step begins where it had come to within the last twelve blocks.
#[test]
fn a_step_begins_where_the_fall_had_lately_come_to() {
    let level = |t: f64| 1e6 - 20_000.0 * t + if t >= 2.0 { 2e5 } else { 0.0 };
    let mut finder = Holding::new(1e6, 50.0, 0.0, 0.01);
    let strokes = found(&mut finder, 100.0, 3.0, level);
    assert_eq!(strokes.len(), 1);
    assert!(
        (level(1.99)..level(1.87)).contains(&strokes[0].from),
        "{strokes:?}"
    );
}

/// What falls at once (hot gas that cools) was at its highest at the top: told by the mean of what comes after
/// it, which is below by 2.5 standard deviations; both sides.
#[test]
fn a_level_that_falls_at_once_is_its_top() {
    let stroke = |per_block: f64| {
        let level = move |t: f64| {
            if t < 0.995 {
                0.0
            } else {
                1e6 - per_block * 100.0 * (t - 1.0)
            }
        };
        found(&mut at_100_hz(1000.0, 0.0), 100.0, 2.0, level).remove(0)
    };
    // Three blocks after it: the mean of them is two falls below. 2.5 · 1000 · sqrt(4 / 3) = 2887 Pa.
    let stays = stroke(1420.0);
    alike(stays.level, 1e6 - 1.5 * 1420.0, 1e-6, "level");
    alike(stays.standard, 500.0, 1e-9, "doubt");
    assert_eq!((stays.bias, stays.cut_off), (0.0, 0.0));
    let falls = stroke(1460.0);
    alike(falls.level, 1e6, 1e-6, "level");
    alike(falls.standard, 1000.0, 1e-9, "doubt");
    // Of the fall in a block: uniform from none of it to all, JCGM 100, 4.3.7: a third of the square.
    let per_block = 2.0 * 1460.0 / 3.0;
    alike(falls.cut_off, per_block, 1e-6, "fall in a block");
    alike(
        falls.bias,
        per_block / 3.0_f64.sqrt(),
        1e-3,
        "doubt of the top",
    );
}

/// A rise in several samples is one stroke, when it is over; one that goes on a little is over as well.
#[test]
fn a_rise_is_one_stroke() {
    let ramp = |length: f64| move |t: f64| 1e6 * ((t - 1.0) / length).clamp(0.0, 1.0);
    for length in [0.02, 0.1, 0.3] {
        let strokes = found(&mut at_100_hz(300.0, 0.0), 100.0, 3.0, ramp(length));
        assert_eq!(strokes.len(), 1, "{length}");
        assert!(
            (strokes[0].time - 1.0 - length).abs() < 0.011,
            "{strokes:?}"
        );
    }
    // It creeps on for a second, by 1 % in all: over before that, and no second stroke.
    let creeps = |t: f64| {
        if t < 1.0 {
            0.0
        } else {
            1e6 + 1e4 * (t - 1.0).min(1.0)
        }
    };
    let strokes = found(&mut at_100_hz(300.0, 0.0), 100.0, 4.0, creeps);
    assert!((strokes[0].time - 1.0).abs() < 0.011, "{strokes:?}");
}

/// How many strokes there are in steps at these times, 2e5 Pa each.
fn counted(times: &[f64]) -> usize {
    let steps: Vec<(f64, f64)> = times
        .iter()
        .zip(1..)
        .map(|(t, n)| (*t, 2e5 * f64::from(n)))
        .collect();
    found(
        &mut Holding::new(0.0, 300.0, 0.0, 0.002),
        500.0,
        4.0,
        stairs(&steps),
    )
    .len()
}

/// Two strokes are 50 ms apart at least, and a third of what they usually are where that is short.
#[test]
fn strokes_do_not_come_at_once() {
    assert_eq!((counted(&[1.0, 1.044]), counted(&[1.0, 1.056])), (1, 2));
    // Usually half a second: not after 0.17 s, but after 0.18 s.
    assert_eq!(counted(&[1.0, 1.5, 2.0, 2.17]), 3);
    assert_eq!(counted(&[1.0, 1.5, 2.0, 2.184]), 4);
    // Pauses of more than 0.6 s lie between kicks, whose strokes come as fast as they may.
    assert_eq!(counted(&[1.0, 1.7, 1.8]), 3);
    // The shortest interval so far is the usual one, and grows slowly.
    assert_eq!(counted(&[1.0, 1.3, 2.0, 2.7, 2.812]), 5);
    assert_eq!(counted(&[1.0, 1.3, 2.0, 2.7, 2.8]), 4);
}

/// A small rise soon after a stroke that does not reach its level is its tail: hose lag, a neighbour.
#[test]
fn a_tail_is_no_stroke() {
    let count = |sinks_to: f64, rises_to: f64, after: f64| {
        let level = move |t: f64| match t {
            t if t < 1.0 => 0.0,
            t if t < 1.06 => 1e6,
            t if t < 0.9999 + after => sinks_to,
            _ => rises_to,
        };
        found(&mut Holding::new(0.0, 300.0, 0.0, 0.002), 500.0, 3.0, level).len()
    };
    assert_eq!(
        (count(9.7e5, 9.9e5, 0.19), count(9.7e5, 9.9e5, 0.22)),
        (1, 2)
    );
    // A rise of 3 % of the level, or one above it, is a stroke at any time.
    assert_eq!(
        (count(9.6e5, 9.86e5, 0.19), count(9.6e5, 9.95e5, 0.19)),
        (1, 2)
    );
    assert_eq!(count(9.9e5, 1.01e6, 0.15), 2);
    // Where strokes come fast one is due after seven tenths of their interval.
    let fast = |after: f64| {
        let at = 1.3 + after;
        let level = move |t: f64| match t {
            t if t < 1.0 => 0.0,
            t if t < 1.15 => 8e5,
            t if t < 1.3 => 9e5,
            t if t < 1.36 => 1e6,
            t if t < at - 1e-4 => 9.7e5,
            _ => 9.9e5,
        };
        found(&mut Holding::new(0.0, 300.0, 0.0, 0.002), 500.0, 3.0, level).len()
    };
    assert_eq!((fast(0.098), fast(0.112)), (3, 4));
}

/// A gap or the end of the range belongs to the stroke in which it is, not to one after a calm.
#[test]
fn gaps_and_clipping_belong_to_their_stroke() {
    let told = |gap_at: u32, clipped_at: u32| {
        let mut finder = at_100_hz(300.0, 0.0);
        let level = stairs(&[(1.0, 6e5), (2.0, 9e5)]);
        (0..300)
            .filter_map(|n| {
                let t = f64::from(n) / 100.0;
                finder.push(t, level(t), n == gap_at, n == clipped_at)
            })
            .map(|stroke| (stroke.missing, stroke.clipped))
            .collect::<Vec<_>>()
    };
    assert_eq!(told(100, 200), [(true, false), (false, true)]);
    assert_eq!(told(102, 202), [(true, false), (false, true)]);
    assert_eq!(told(50, 150), [(false, false), (false, false)]);
}

/// Blocks are 4 ms, or single samples; a rate that is not known makes no blocks.
#[test]
fn samples_are_averaged_where_they_come_fast() {
    for (period, per_block) in [
        (0.0, 1),
        (0.1, 1),
        (0.008, 1),
        (0.0027, 1),
        (0.0026, 2),
        (0.001, 4),
        (1e-7, 1000),
    ] {
        let finder = Holding::new(0.0, 90.0, 0.0, period);
        assert_eq!(finder.per_block, per_block, "{period}");
        alike(
            finder.noise,
            90.0 / f64::from(per_block).sqrt(),
            1e-12,
            "noise of a block",
        );
    }
}

/// A step is where the pressure last rose clearly: by 2 % of the step, two standard deviations or three tenths of
/// the sensor's step, whichever is most; both sides.
#[test]
fn the_time_of_a_step_is_that_of_its_last_clear_rise() {
    let time = |height: f64, more: f64, noise: f64, least: f64| {
        let level = stairs(&[(1.0, height), (1.0 + 2.0 / 128.0, height + more)]);
        let mut finder = Holding::new(0.0, noise, least, 1.0 / 128.0);
        let strokes = found(&mut finder, 128.0, 2.0, level);
        assert_eq!(strokes.len(), 1);
        ((strokes[0].time - 1.0) * 128.0).round()
    };
    assert_eq!(
        (time(1e6, 1.9e4, 300.0, 0.0), time(1e6, 2.1e4, 300.0, 0.0)),
        (0.0, 2.0)
    );
    assert_eq!(
        (time(1e4, 550.0, 300.0, 0.0), time(1e4, 650.0, 300.0, 0.0)),
        (0.0, 2.0)
    );
    assert_eq!(
        (
            time(5e4, 1400.0, 50.0, 5000.0),
            time(5e4, 1600.0, 50.0, 5000.0)
        ),
        (0.0, 2.0)
    );
    // Of the step, not of the level.
    let second = |more: f64| {
        let level = stairs(&[(1.0, 9e5), (2.0, 1e6), (2.0 + 2.0 / 128.0, 1e6 + more)]);
        let mut finder = Holding::new(0.0, 50.0, 0.0, 1.0 / 128.0);
        let strokes = found(&mut finder, 128.0, 3.0, level);
        ((strokes[1].time - 2.0) * 128.0).round()
    };
    assert_eq!((second(1900.0), second(2100.0)), (0.0, 2.0));
}
