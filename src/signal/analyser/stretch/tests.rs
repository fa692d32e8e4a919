//! The quick way is taken where nothing happens, and leaves the analyser as the slow one does.

use super::*;
use crate::signal::outside::Noise;
use crate::signal::settings::Settings;
use crate::units::{Pressure, Time};

const RATE: f64 = 500.0;

fn sample(n: usize, pa: f64) -> Sample {
    Sample {
        time: Time::from_s(n as f64 / RATE),
        pressure: Pressure::from_pa(pa),
        clipped: false,
        gap_before: false,
    }
}

/// Half a second a stroke from 1 s on: pulses of a tenth of a second, or steps that each leave half.
fn level(rig: Rig, t: f64) -> f64 {
    let strokes = (t - 0.5) / 0.5;
    let within = 0.5 * strokes.fract();
    match rig {
        _ if strokes < 1.0 || t > 30.0 => 0.0,
        Rig::Following if within < 0.1 => 9e5 * libm::sin(within / 0.1 * std::f64::consts::PI),
        Rig::Following => 0.0,
        Rig::Holding => 9e5 * (1.0 - libm::pow(0.5, strokes.floor().min(8.0))),
    }
}

fn visit(rig: Rig) -> Vec<Sample> {
    let mut noise = Noise(4);
    let count = (34.0 * RATE) as usize;
    (0..count)
        .map(|n| sample(n, level(rig, n as f64 / RATE) + 200.0 * noise.normal()))
        .collect()
}

fn analyser(rig: Option<Rig>) -> Analyser {
    Analyser::new(Settings {
        rig,
        range_max: Some(Pressure::from_kpa(1000.0)),
        resolution: Pressure::from_pa(100.0),
        ..Settings::default()
    })
}

/// Every few samples are handed to the quick way and to the slow one: the same events, the same state; and most
/// samples go the quick way once the rig is known.
#[test]
fn the_quick_way_is_taken_and_is_the_slow_way() {
    for rig in [Rig::Following, Rig::Holding] {
        for given in [None, Some(rig)] {
            let (mut quick, mut slow) = (analyser(given), analyser(given));
            let (mut ours, mut theirs) = (Vec::new(), Vec::new());
            let mut passed = 0;
            let visit = visit(rig);
            for stretch in visit.chunks(16) {
                let taken = quick.pass_over(stretch, &mut ours);
                passed += taken;
                for sample in &stretch[..taken] {
                    slow.push(*sample, &mut theirs);
                }
                // A finder of rigs that nobody asks may differ.
                let alike = if given.is_some() {
                    quick.live() == slow.live()
                } else {
                    format!("{quick:?}") == format!("{slow:?}")
                };
                assert!(
                    alike,
                    "{rig:?} at {:?}: {quick:?}\n{slow:?}",
                    stretch[0].time
                );
                for sample in &stretch[taken..] {
                    quick.push(*sample, &mut ours);
                    slow.push(*sample, &mut theirs);
                }
            }
            assert_eq!(ours, theirs);
            // Of 34 s it rests for five; what is due behind a check valve is looked for, a third of the time.
            let least = if rig == Rig::Following { 7 } else { 5 };
            assert!(
                passed * 10 > visit.len() * least,
                "{rig:?}: {passed} of {}",
                visit.len()
            );
        }
    }
}

/// A following analyser two and a half tenths of a second after its eighth stroke, with the number of the next
/// sample.
fn between_strokes() -> (Analyser, usize) {
    let mut analyser = analyser(Some(Rig::Following));
    let next = (4.8 * RATE) as usize;
    for sample in &visit(Rig::Following)[..next] {
        analyser.push(*sample, &mut Vec::new());
    }
    (analyser, next)
}

/// What is odd about one sample of a stretch leaves it to the slow way.
#[test]
fn an_odd_sample_is_looked_at_by_itself() {
    let taken = |change: &dyn Fn(&mut Sample)| {
        let (mut analyser, next) = between_strokes();
        let mut stretch: Vec<Sample> = (next..next + 8).map(|n| sample(n, 50.0)).collect();
        change(&mut stretch[5]);
        analyser.pass_over(&stretch, &mut Vec::new())
    };
    assert_eq!(taken(&|_| ()), 8);
    assert_eq!(taken(&|sample| sample.clipped = true), 0);
    assert_eq!(taken(&|sample| sample.gap_before = true), 0);
    assert_eq!(
        taken(&|sample| sample.pressure = Pressure::from_pa(f64::NAN)),
        0
    );
    assert_eq!(
        taken(&|sample| sample.pressure = Pressure::from_kpa(-10_001.0)),
        0
    );
    assert_eq!(
        taken(&|sample| sample.pressure = Pressure::from_kpa(1000.0)),
        0,
        "the end of the range"
    );
    assert_eq!(
        taken(&|sample| sample.time = sample.time - Time::from_s(0.1)),
        0
    );
    assert_eq!(taken(&|sample| sample.time = Time::from_s(f64::NAN)), 0);
    assert_eq!(
        taken(&|sample| sample.time = sample.time - Time::from_s(1.0 / RATE)),
        8,
        "at one time"
    );
    // Long after the last stroke a pause has to be told.
    let (mut analyser, next) = between_strokes();
    analyser.run = crate::signal::decide::run::Run::new(false);
    let late: Vec<Sample> = (next + 5000..next + 5008)
        .map(|n| sample(n, 50.0))
        .collect();
    assert_eq!(analyser.pass_over(&late, &mut Vec::new()), 0);
    analyser.paused = true;
    assert_eq!(analyser.pass_over(&late, &mut Vec::new()), 8);
}

/// Without a check valve a silence of 45 s ends the run, unless the recording does.
#[test]
fn a_long_silence_is_looked_at() {
    let taken = |seconds: f64, explicit: bool| {
        let (mut analyser, _) = between_strokes();
        analyser.paused = true;
        analyser.run.explicit = explicit;
        // The last top was at 4.55 s.
        let from = ((4.55 + seconds) * RATE) as usize;
        let stretch: Vec<Sample> = (from..from + 8).map(|n| sample(n, 50.0)).collect();
        analyser.pass_over(&stretch, &mut Vec::new())
    };
    assert_eq!(
        (taken(44.9, false), taken(45.1, false), taken(45.1, true)),
        (8, 0, 8)
    );
}

/// A held level that may be a bleed is looked at.
#[test]
fn a_level_that_sinks_is_looked_at() {
    let taken = |share: f64| {
        let mut analyser = analyser(Some(Rig::Holding));
        let next = (9.3 * RATE) as usize;
        for sample in &visit(Rig::Holding)[..next] {
            analyser.push(*sample, &mut Vec::new());
        }
        let held = 9e5 * (1.0 - libm::pow(0.5, 8.0));
        let stretch: Vec<Sample> = (next..next + 8).map(|n| sample(n, share * held)).collect();
        analyser.pass_over(&stretch, &mut Vec::new())
    };
    assert_eq!((taken(0.31), taken(0.29)), (8, 0));
}
