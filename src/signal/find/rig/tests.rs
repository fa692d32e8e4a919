//! Both sides of each share and time by which the rigs are told apart.

use super::*;
use crate::signal::outside::Noise;

const FLOOR: f64 = 4e4;
const TOP: f64 = 1e6;

/// What is said of levels at their times, and when.
fn said(levels: &[(f64, f64)]) -> Vec<(f64, Rig)> {
    let mut finder = RigFinder::new(FLOOR);
    levels
        .iter()
        .filter_map(|(t, x)| finder.push(*t, *x).map(|rig| (*t, rig)))
        .collect()
}

/// A level kept for so long (s), every 20 ms from a time on.
fn kept(from: f64, length: f64, level: f64) -> Vec<(f64, f64)> {
    let count = (length / 0.02).round() as u32;
    (0..=count)
        .map(|n| (from + 0.02 * f64::from(n), level))
        .collect()
}

fn rigs(parts: &[Vec<(f64, f64)>]) -> Vec<Rig> {
    said(&parts.concat())
        .into_iter()
        .map(|(_, rig)| rig)
        .collect()
}

#[test]
fn a_pulse_that_falls_below_three_tenths_follows() {
    assert_eq!(said(&[(1.0, TOP), (1.1, 0.31 * TOP)]), []);
    assert_eq!(
        said(&[(1.0, TOP), (1.1, 0.29 * TOP)]),
        [(1.1, Rig::Following)]
    );
    // What never rose above the floor says nothing.
    assert_eq!(said(&[(1.0, 0.99 * FLOOR), (1.1, 0.0)]), []);
    assert_eq!(
        said(&[(1.0, 1.01 * FLOOR), (1.1, 0.0)]),
        [(1.1, Rig::Following)]
    );
}

#[test]
fn a_level_that_is_kept_for_a_second_is_held() {
    let held = said(&kept(2.0, 1.5, TOP));
    assert_eq!(held.len(), 1);
    assert!(
        (held[0].0 - 3.0).abs() < 0.011 && held[0].1 == Rig::Holding,
        "{held:?}"
    );
    // Let go before that, it was a pulse; a level between the two shares is neither.
    assert_eq!(
        rigs(&[kept(2.0, 0.9, TOP), kept(2.92, 0.5, 0.0)]),
        [Rig::Following]
    );
    assert_eq!(
        rigs(&[vec![(2.0, TOP)], kept(2.02, 2.0, 0.41 * TOP)]),
        [Rig::Holding]
    );
    assert_eq!(rigs(&[vec![(2.0, TOP)], kept(2.02, 2.0, 0.39 * TOP)]), []);
    let sinks = [
        vec![(2.0, TOP)],
        kept(2.02, 2.0, 0.39 * TOP),
        vec![(4.1, 0.0)],
    ];
    assert_eq!(rigs(&sinks), [Rig::Following]);
}

/// A climb without any step, bled before it ever stood: held, if it took longer than a stroke.
#[test]
fn a_climb_of_more_than_a_second_is_held() {
    let climb = |length: f64| {
        let count = (length / 0.05).round() as u32;
        let mut levels: Vec<(f64, f64)> = (0..=count)
            .map(|n| (0.05 * f64::from(n), 4e5 + 1e4 * f64::from(n)))
            .collect();
        levels.push((length + 0.05, 0.0));
        rigs(&[levels])
    };
    assert_eq!(climb(0.95), [Rig::Following]);
    assert_eq!(climb(1.05), [Rig::Holding]);
}

/// A second step: from a level that was kept, clearly higher, and not at once.
#[test]
fn a_second_step_is_held() {
    let step = |lowest: f64, second: f64, after: f64| {
        said(&[
            (1.0, TOP),
            (1.0 + 0.5 * after, lowest),
            (1.0 + after, second),
        ])
    };
    let higher = 1.05 * TOP + FLOOR;
    assert_eq!(step(0.51 * TOP, higher + 1.0, 0.1), [(1.1, Rig::Holding)]);
    assert_eq!(step(0.49 * TOP, higher + 1.0, 0.1), []);
    assert_eq!(step(0.9 * TOP, higher - 1.0, 0.1), []);
    assert_eq!(
        step(0.9 * TOP, higher + 1.0, 0.081),
        [(1.081, Rig::Holding)]
    );
    assert_eq!(step(0.9 * TOP, higher + 1.0, 0.079), []);
    // A rise in two samples is one rise.
    assert_eq!(said(&[(1.0, TOP), (1.2, 2.0 * TOP)]), []);
}

/// A small level before a stroke (a piston near its top) does not make the stroke a long one; one of two
/// fifths or more of its height is part of it.
#[test]
fn a_stroke_begins_where_it_is_large() {
    // Climbing all the time, so that no step is seen.
    let ramp = |share: f64| {
        let mut levels: Vec<(f64, f64)> = (0..12)
            .map(|n| (0.05 * f64::from(n), share * TOP + f64::from(n)))
            .collect();
        levels.extend((0..11).map(|n| (0.6 + 0.05 * f64::from(n), TOP + f64::from(n))));
        levels.push((1.15, 0.0));
        rigs(&[levels])
    };
    assert_eq!(ramp(0.39), [Rig::Following]);
    assert_eq!(ramp(0.41), [Rig::Holding]);
}

/// Every pulse speaks once; the next begins when it is gone.
#[test]
fn each_pulse_speaks_once() {
    let pulse =
        |at: f64, top: f64| vec![(at, top), (at + 0.02, 0.29 * top), (at + 0.04, 0.2 * top)];
    assert_eq!(
        rigs(&[pulse(1.0, TOP), pulse(2.0, TOP), pulse(3.0, 0.5 * TOP)]),
        [Rig::Following; 3]
    );
    // Held, then higher, then bled to less than three tenths of the highest: one voice. Then a pulse.
    let held = [kept(1.0, 1.2, TOP), kept(2.3, 1.2, 2.0 * TOP)];
    let sunk = |to: f64| [held.concat(), vec![(4.0, to)], pulse(5.0, 2.5 * TOP)];
    assert_eq!(rigs(&sunk(0.61 * TOP)), [Rig::Holding]);
    assert_eq!(rigs(&sunk(0.59 * TOP)), [Rig::Holding, Rig::Following]);
}

/// Samples that leave it as it is may be passed over: it is then as if each had been taken, and in a rest
/// or on a held level it is so.
#[test]
fn passing_over_is_the_same_as_taking() {
    let mut noise = Noise(5);
    let mut passed = 0;
    for _ in 0..4000 {
        let mut finder = RigFinder::new(FLOOR);
        let mut t = 0.0;
        for _ in 0..(6.0 * noise.uniform()) as u32 {
            t += 0.4 * noise.uniform();
            finder.push(t, TOP * noise.uniform() * noise.uniform().round());
        }
        let samples: Vec<f64> = (0..3)
            .map(|_| TOP * noise.uniform() * noise.uniform())
            .collect();
        let low = samples.iter().copied().fold(f64::MAX, f64::min);
        let high = samples.iter().copied().fold(f64::MIN, f64::max);
        if finder.stays(low, high) {
            let (mut one_by_one, mut at_once) = (finder, finder);
            for x in &samples {
                t += 0.01;
                assert_eq!(one_by_one.push(t, *x), None);
            }
            at_once.pass_over(high);
            assert_eq!(format!("{one_by_one:?}"), format!("{at_once:?}"));
            passed += 1;
        }
    }
    assert!(passed > 100, "{passed}");
    let mut finder = RigFinder::new(FLOOR);
    assert!(finder.stays(-50.0, FLOOR) && !finder.stays(-50.0, FLOOR + 1.0));
    finder.push(0.0, TOP);
    assert!(!finder.stays(0.9 * TOP, 0.95 * TOP), "it may be held");
    finder.push(0.01, 0.2 * TOP);
    assert!(finder.stays(0.3 * TOP, 0.4 * TOP) && !finder.stays(0.29 * TOP, 0.4 * TOP));
    // With a higher sample among them the same low one may end the pulse.
    assert!(!finder.stays(0.3 * TOP, 1.1 * TOP));
}
