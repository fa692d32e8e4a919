use super::bytes::Bytes;
use super::findings::run_is_sane;
use needlerest::signal::{Analyser, Event, Rig, Sample, Settings, Turned};
use needlerest::units::{Pressure, Time};

/// Most samples that one input makes.
const MOST: usize = 4000;

/// Any samples: no panic, finite numbers, strokes in order.
pub fn signal(data: &[u8]) {
    let mut bytes = Bytes::new(data);
    let settings = settings(&mut bytes);
    let samples = samples(&mut bytes);
    let mut analyser = Analyser::new(settings);
    let mut events = Vec::new();
    for (at, sample) in samples.iter().enumerate() {
        analyser.push(*sample, &mut events);
        if data.get(at % 97).is_some_and(|byte| *byte == 0xEE) {
            let live = analyser.live();
            assert!(live.pressure.is_none_or(Pressure::is_finite));
        }
        if data.first() == Some(&0xDD) && at % 501 == 500 {
            analyser.begin_run(&mut events);
        }
    }
    analyser.finish(&mut events);
    for event in &events {
        match event {
            Event::RunEnded(run) => run_is_sane(run),
            Event::Zeroed(zero) => assert!(zero.level.is_finite() && zero.standard.is_finite()),
            Event::Stroke(stroke) => assert!(stroke.peak.is_finite()),
            Event::Settled { reading, call } => {
                assert!(reading.value.is_finite() && call.count > call.unseen);
                assert!(reading.expanded.is_finite() && reading.expanded.pa() >= 0.0);
            }
            _ => {}
        }
    }
    let ended = events
        .iter()
        .filter(|event| matches!(event, Event::RunEnded(_)));
    assert!(ended.count() <= samples.len() + 1);
}

fn settings(bytes: &mut Bytes<'_>) -> Settings {
    let rigs = [None, None, Some(Rig::Holding), Some(Rig::Following)];
    let turned = [
        None,
        Some(Turned::ByStarter),
        Some(Turned::ByHand),
        Some(Turned::InKicks),
    ];
    Settings {
        rig: rigs[usize::from(bytes.below(4))],
        turned: turned[usize::from(bytes.below(4))],
        absolute: bytes.chance(),
        resolution: Pressure::from_pa(f64::from(bytes.byte()) * 10.0),
        accuracy_standard: Pressure::from_pa(f64::from(bytes.byte()) * 100.0),
        range_max: bytes.perhaps(|bytes| Pressure::from_kpa(f64::from(bytes.byte()) * 20.0)),
        sample_period: bytes.perhaps(|bytes| Time::from_s(f64::from(bytes.byte()) * 1e-4)),
        ..Settings::default()
    }
}

/// Pieces that a pump-up is made of, and pieces that no sensor would send.
fn samples(bytes: &mut Bytes<'_>) -> Vec<Sample> {
    let mut made = Vec::new();
    let (mut time, mut level) = (0.0, 0.0);
    let mut step = 0.002;
    while !bytes.is_empty() && made.len() < MOST {
        let count = usize::from(bytes.byte()) + 1;
        let kind = bytes.below(8);
        let (from, to) = (level, bytes.number(400e3));
        for at in 0..count {
            let share = (at + 1) as f64 / count as f64;
            let pascal = match kind {
                0 | 1 => level,
                // A step that stays.
                2 => from + (to - from) * (share * 8.0).min(1.0),
                3 => from + (to - from) * share,
                // A pulse, up and down again.
                4 | 5 => from + (to - from) * (1.0 - (2.0 * share - 1.0).abs()),
                6 => bytes.number(400e3),
                _ => to,
            };
            time += step;
            made.push(sample(time, pascal, kind == 6 && at % 7 == 3));
        }
        match kind {
            2 | 3 => level = to,
            7 => match bytes.below(4) {
                0 => time += bytes.number(5.0),
                1 => time = bytes.number(50.0),
                2 => step = bytes.number(0.002),
                _ => level = 0.0,
            },
            _ => {}
        }
    }
    made
}

fn sample(time: f64, pascal: f64, odd: bool) -> Sample {
    Sample {
        time: Time::from_s(time),
        pressure: Pressure::from_pa(pascal),
        clipped: odd,
        gap_before: odd,
    }
}
