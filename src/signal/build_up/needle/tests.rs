//! The needle, by sorting.

use super::*;
use crate::signal::outside::Noise;

fn chance(level: f64, sampled: f64, unseen: u32) -> Chance {
    Chance {
        time: 0.0,
        ended: 0.0,
        level,
        sampled,
        unseen,
    }
}

/// The median of the better half (of the middle one too) of the latest 64, each list sorted in whole.
fn by_sorting(chances: &[Chance]) -> f64 {
    let mut latest: Vec<Chance> = chances.iter().rev().take(64).copied().collect();
    latest.sort_by(|a, b| a.sampled.total_cmp(&b.sampled));
    let mut better: Vec<f64> = latest
        .split_off(latest.len() / 2)
        .iter()
        .map(|c| c.level)
        .collect();
    better.sort_by(f64::total_cmp);
    let (n, middle) = (better.len(), better.len() / 2);
    if n % 2 == 1 {
        better[middle]
    } else {
        f64::midpoint(better[middle - 1], better[middle])
    }
}

#[test]
fn without_a_check_valve_it_is_the_median_of_the_better_half() {
    let mut noise = Noise(3);
    let mut tops = Vec::new();
    let rig = Some(Rig::Following);
    for n in 1..=150 {
        let sampled = 1e6 + 1e5 * noise.uniform();
        tops.push(chance(sampled + 1e5 * noise.uniform(), sampled, 0));
        let expected = by_sorting(&tops);
        assert!((at(&tops, rig) - expected).abs() < 1e-6, "{n}");
        let each = after_each(&tops, rig, 0..usize::MAX);
        assert_eq!(each.len(), n);
        assert!((each[n - 1] - expected).abs() < 1e-6, "{n}");
        assert_eq!(after_latest(&tops, rig, 3), each[n.saturating_sub(3)..]);
        assert_eq!(after_each(&tops, rig, 1..4), each[1.min(n)..4.min(n)]);
    }
    assert_eq!(at(&[], rig), 0.0);
    // Which half is better is told by the samples, not by what was fitted.
    let fitted_too_high = [
        chance(9e6, 1e6, 0),
        chance(1.2e6, 1.1e6, 0),
        chance(1.3e6, 1.2e6, 0),
    ];
    assert_eq!(at(&fitted_too_high, rig), 1.25e6);
}

#[test]
fn behind_a_check_valve_it_is_the_highest_so_far() {
    let chances = [
        chance(3.0, 0.0, 0),
        chance(2.0, 0.0, 2),
        chance(5.0, 0.0, 1),
        chance(4.0, 0.0, 0),
    ];
    for rig in [Some(Rig::Holding), None] {
        assert_eq!(at(&chances, rig), 5.0);
        let all = after_each(&chances, rig, 0..usize::MAX);
        assert_eq!(all, [3.0, 3.0, 3.0, 3.0, 5.0, 5.0, 5.0]);
        assert_eq!(after_latest(&chances, rig, 4), [3.0, 5.0, 5.0, 5.0]);
        assert_eq!(after_each(&chances, rig, 2..5), [3.0, 3.0, 5.0]);
    }
}
