//! Samples taken many at a time give what they give one by one.

use super::synth::{Noise, following, holding, peak, sample, settings};
use needlerest::signal::{Analyser, Event, Rig, Sample, Settings};
use needlerest::units::{Pressure, Time};
use proptest::prelude::*;

/// A visit: twice the same, of two runs with pauses and bleeds, and one as on the other rig.
fn visit(rate: f64, rig: Rig, seed: u64) -> Vec<Sample> {
    let mut noise = Noise(seed);
    let one = |t: f64| match rig {
        Rig::Following if t < 12.0 => following(t, 0.22, |k| if k == 3 { 0.6 } else { 1.0 }, 20),
        Rig::Following if t < 20.0 => following(t - 11.0, 0.25, |_| 1.1, 9),
        Rig::Following => holding(t - 20.0, 0.3, peak(), 0.3, 14),
        Rig::Holding if t < 9.0 => holding(t, 0.22, peak(), 0.5, 11),
        Rig::Holding if t < 12.0 => 0.0,
        Rig::Holding if t < 20.0 => holding(t - 11.0, 0.3, peak(), 0.3, 14),
        Rig::Holding => following(t - 20.0, 0.25, |_| 1.0, 9),
    };
    let count = (72.0 * rate) as u32;
    (0..count)
        .map(|i| {
            let t = f64::from(i) / rate;
            let pressure = one(if t < 36.0 { t } else { t - 36.0 });
            sample(t, pressure + 900.0 * noise.normal())
        })
        .collect()
}

/// What may be odd about a sample.
fn spoil(sample: &mut Sample, how: u8) {
    match how {
        0 => sample.gap_before = true,
        1 => sample.clipped = true,
        2 => sample.pressure = Pressure::from_pa(f64::NAN),
        3 => sample.pressure = Pressure::from_kpa(2600.0),
        4 => sample.pressure = Pressure::from_kpa(-90.0),
        5 => sample.pressure = Pressure::from_pa(1e12),
        6 => sample.time = sample.time - Time::from_s(0.5),
        7 => sample.time = Time::from_s(f64::INFINITY),
        _ => sample.time = Time::from_s(f64::NAN),
    }
}

/// Events with the state after each, and the state in the end.
fn told(analyser: &Analyser, events: &mut Vec<Event>, out: &mut Vec<String>) {
    if !events.is_empty() {
        out.push(format!("{events:?} {:?}", analyser.live()));
        events.clear();
    }
}

fn one_by_one(settings: Settings, samples: &[Sample], begin: usize) -> Vec<String> {
    let (mut analyser, mut events, mut out) = (Analyser::new(settings), Vec::new(), Vec::new());
    for (index, sample) in samples.iter().enumerate() {
        if index == begin {
            analyser.begin_run(&mut events);
            told(&analyser, &mut events, &mut out);
        }
        analyser.push(*sample, &mut events);
        told(&analyser, &mut events, &mut out);
    }
    analyser.finish(&mut events);
    told(&analyser, &mut events, &mut out);
    out
}

fn in_pieces(settings: Settings, samples: &[Sample], begin: usize, sizes: &[usize]) -> Vec<String> {
    let (mut analyser, mut events, mut out) = (Analyser::new(settings), Vec::new(), Vec::new());
    let (mut at, mut sizes) = (0, sizes.iter().cycle());
    while at < samples.len() {
        if at == begin {
            analyser.begin_run(&mut events);
            told(&analyser, &mut events, &mut out);
        }
        let mut end = (at + sizes.next().unwrap()).min(samples.len());
        if at < begin && begin < end {
            end = begin;
        }
        while at < end {
            at += analyser.push_all(&samples[at..end], &mut events);
            told(&analyser, &mut events, &mut out);
        }
    }
    analyser.finish(&mut events);
    told(&analyser, &mut events, &mut out);
    out
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn any_split_tells_the_same(
        following in any::<bool>(),
        rate in prop_oneof![Just(40.0), Just(250.0), Just(1000.0)],
        seed in 1..u64::MAX,
        known in any::<bool>(),
        begin in 0.0..2.0,
        odd in proptest::collection::vec((any::<prop::sample::Index>(), 0..9_u8), 0..12),
        sizes in proptest::collection::vec(prop_oneof![1..4_usize, Just(10), 1..200_usize], 1..9),
    ) {
        let rig = if following { Rig::Following } else { Rig::Holding };
        let mut samples = visit(rate, rig, seed);
        for (index, how) in odd {
            let index = index.index(samples.len());
            spoil(&mut samples[index], how);
        }
        let begin = (begin * samples.len() as f64) as usize;
        let settings = Settings { rig: known.then_some(rig), ..settings() };
        let expected = one_by_one(settings, &samples, begin);
        prop_assert!(expected.len() > 30);
        prop_assert_eq!(in_pieces(settings, &samples, begin, &sizes), expected);
    }
}
