//! Runs of our own simulator.

use super::case::{Case, LetGo, True, Who};
use super::population::{self, Drawn};
use super::truth;
use needlerest::signal::{Rig, Sample, Settings};
use needlerest::simulate::{self, RunSpec};
use needlerest::units::{Pressure, Time};

/// Fewest strokes, turns or kicks of an ordinary run.
const fn fewest(who: Who) -> usize {
    match who {
        Who::Starter => 8,
        Who::HandCrank => 12,
        Who::Kicks => 9,
    }
}

/// How long a needle that was let go stands before it is bled (s).
const STANDS_S: f64 = 8.0;

/// Simulates the run of this index; none where the engine never got over a compression, or where
/// an ordinary run came out too short.
pub fn case(seed: u64, index: u64, odd: bool) -> Option<Case> {
    let drawn = population::draw(seed, index, odd);
    let Drawn { spec, rig, who, .. } = &drawn;
    let trace = simulate::run(spec).ok()?;
    let made = trace.truth.strokes.len();
    let mut on = spec.clone();
    on.program.strokes = u32::try_from(2 * made + 12).ok()?;
    on.program.crank_at_most_s = 2.2 * spec.program.crank_at_most_s + 10.0;
    let strokes = shown(&on)?;
    let enough = truth::chances(&strokes[..made.min(strokes.len())], *who).len() >= fewest(*who);
    if !odd && !enough {
        return None;
    }
    let settings = settings(&drawn);
    let repeats = match who {
        Who::Starter => 1,
        Who::HandCrank | Who::Kicks => 2,
    };
    let again = |n: u64| {
        let mut spec = spec.clone();
        spec.seed = spec.seed.wrapping_add(7919 * n);
        shown(&spec)
    };
    Some(Case {
        index,
        who: *who,
        rig: *rig,
        odd: drawn.odd,
        wet: spec.oil.is_some(),
        about: drawn.about.clone(),
        settings,
        samples: samples(&trace.samples),
        ended: trace.truth.cranking_to.s(),
        repeats: (1..=repeats).filter_map(again).collect(),
        let_go: let_go(&drawn, &strokes),
        strokes,
    })
}

/// Cut short after two, three and four strokes or kicks. Only behind a check valve does a needle
/// that was let go stand.
fn let_go(drawn: &Drawn, strokes: &[True]) -> Vec<LetGo> {
    if drawn.rig == Rig::Following {
        return Vec::new();
    }
    let chances = truth::chances(strokes, drawn.who);
    (2..=4)
        .filter_map(|n| {
            let (_, ended, _) = chances.get(n - 1)?;
            let made = strokes.partition_point(|(at, _)| at <= ended);
            let mut spec = drawn.spec.clone();
            spec.program.strokes = u32::try_from(made).ok()?;
            spec.program.hold_s = STANDS_S;
            Some(LetGo {
                samples: samples(&simulate::samples(&spec).ok()?),
                strokes: made,
            })
        })
        .collect()
}

fn shown(spec: &RunSpec) -> Option<Vec<True>> {
    let strokes = simulate::strokes(spec).ok()?;
    let shown = strokes.iter().map(|s| (s.time.s(), s.shown_peak.pa()));
    Some(shown.collect())
}

fn samples(told: &[simulate::Sample]) -> Vec<Sample> {
    let mut gap = false;
    let mut samples = Vec::with_capacity(told.len());
    for sample in told {
        if sample.lost {
            gap = true;
            continue;
        }
        samples.push(Sample {
            time: sample.sensor_time,
            pressure: sample.pressure,
            clipped: sample.out_of_range,
            gap_before: std::mem::take(&mut gap),
        });
    }
    samples
}

fn settings(drawn: &Drawn) -> Settings {
    let sensor = &drawn.spec.sensor;
    Settings {
        turned: drawn.card.then(|| drawn.who.turned()),
        resolution: Pressure::from_kpa(sensor.resolution_kpa),
        range_max: Some(Pressure::from_kpa(sensor.range_max_kpa)),
        sample_period: Some(Time::from_s(1.0 / sensor.rate_hz)),
        ..Settings::default()
    }
}
