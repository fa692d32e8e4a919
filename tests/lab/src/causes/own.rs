//! Visits of our own simulator, read by the same analysis as a recording.
//!
//! Whoever makes the visit does as the tool says: goes on cranking where the needle still climbed
//! (once), repeats a run that gave no reading, and wets the cylinders that read low and the best one
//! beside them.

use super::engines::scaled;
use super::population::{self, Plan, Wetting};
use super::visit::{Cause, Known, Read, Visit};
use needlerest::engine::expected::{crank_speed, expected};
use needlerest::engine::{Ambient, Condition, JobCard, Start};
use needlerest::signal::{Analyser, Event, Outcome, RunResult, Sample, Settings, Turned};
use needlerest::simulate::{self, RunSpec, SimulateError};
use needlerest::units::{Pressure, Time};

/// Below this share of the best cylinder (or of what the card predicts) a cylinder is wetted.
const READS_LOW: f64 = 0.93;

/// Simulates and reads a visit; an error where the engine does not turn over.
pub fn visit(seed: u64, index: u64) -> Result<Visit, SimulateError> {
    let plan = population::visit(seed, index);
    let mut made = Made {
        card: &plan.card,
        specs: Vec::new(),
        reads: Vec::new(),
    };
    for spec in &plan.dry {
        made.run(spec)?;
    }
    let low = low(&plan, &made.reads);
    for spec in &plan.wet {
        let wanted = match plan.wetting {
            Wetting::None => false,
            Wetting::Low => low.contains(&spec.cylinder),
            Wetting::Every => true,
        };
        if wanted {
            made.run(spec)?;
        }
    }
    let cylinders = plan.cylinders.iter();
    let cylinders = cylinders
        .map(|known| {
            Ok(Known {
                takes: taken(&plan, known, &made)?,
                ..known.clone()
            })
        })
        .collect::<Result<_, SimulateError>>()?;
    Ok(Visit {
        reads: made.reads,
        cylinders,
        cause: plan.cause,
        card_wrong: plan.card_wrong,
        card: plan.card,
    })
}

/// The runs made so far.
struct Made<'a> {
    card: &'a JobCard,
    /// As they were made at last.
    specs: Vec<RunSpec>,
    reads: Vec<Read>,
}

impl Made<'_> {
    /// Makes a run; once more where it gave no reading.
    fn run(&mut self, planned: &RunSpec) -> Result<(), SimulateError> {
        let (mut spec, mut result) = to_the_end(planned, self.card)?;
        if result.as_ref().is_none_or(|run| run.reading.is_none()) {
            let again = RunSpec {
                seed: planned.seed ^ 1,
                ..planned.clone()
            };
            (spec, result) = to_the_end(&again, self.card)?;
        }
        self.reads.extend(result.map(|result| Read {
            cylinder: spec.cylinder.clone(),
            condition: spec.condition,
            result,
        }));
        self.specs.push(spec);
        Ok(())
    }
}

/// The run as planned; twice as long where a dry needle still climbed.
fn to_the_end(
    planned: &RunSpec,
    card: &JobCard,
) -> Result<(RunSpec, Option<RunResult>), SimulateError> {
    let mut spec = planned.clone();
    let mut result = read(&spec, card, &simulate::samples(&spec)?);
    let climbs = |run: &RunResult| run.outcome == Outcome::StillClimbing;
    if planned.condition != Condition::Wet && result.as_ref().is_some_and(climbs) {
        spec.program.strokes *= 2;
        spec.program.crank_at_most_s *= 2.0;
        result = read(&spec, card, &simulate::samples(&spec)?);
    }
    Ok((spec, result))
}

/// The cylinders that read low, and the best one. Where all read alike and less than the card
/// predicts, that is every one.
fn low(plan: &Plan, reads: &[Read]) -> Vec<String> {
    let Some(condition) = plan.dry.last().map(|spec| spec.condition) else {
        return Vec::new();
    };
    let levels: Vec<(&Read, f64)> = reads
        .iter()
        .filter(|read| read.condition == condition)
        .filter_map(|read| Some((read, read.result.reading.as_ref()?.value.pa())))
        .collect();
    let best = levels.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let Some((best, highest)) = best else {
        return Vec::new();
    };
    let should = should_read(&plan.card, best).unwrap_or(*highest);
    levels
        .iter()
        .filter(|(read, level)| {
            read.cylinder == best.cylinder || *level < READS_LOW * highest.max(should)
        })
        .map(|(read, _)| read.cylinder.clone())
        .collect()
}

/// What the card lets a sound cylinder read, in pascal.
fn should_read(card: &JobCard, read: &Read) -> Option<f64> {
    let engine = &card.engine;
    let cadence = read.result.cadence.as_ref();
    let crank = cadence.and_then(|c| crank_speed(c.median, engine.cycle, engine.start));
    let ambient = Ambient::of(card.site.as_ref());
    Some(expected(card, &ambient, crank, read.condition)?.likely.pa())
}

/// The share of a cylinder's dry reading that is taken away: against a run in which nothing is the
/// matter.
fn taken(plan: &Plan, known: &Known, made: &Made<'_>) -> Result<f64, SimulateError> {
    let condition = plan.dry.last().map(|spec| spec.condition);
    let dry = made
        .specs
        .iter()
        .find(|spec| spec.cylinder == known.name && Some(spec.condition) == condition)
        .filter(|_| known.cause != Cause::Sound);
    let Some(spec) = dry else {
        return Ok(0.0);
    };
    let with = made
        .reads
        .iter()
        .find(|read| read.cylinder == known.name && read.condition == spec.condition);
    let sound = sound(plan, spec);
    let without = read(&sound, made.card, &simulate::samples(&sound)?);
    let level = |result: Option<&RunResult>| result?.reading.as_ref().map(|r| r.value.pa());
    let (with, without) = (
        level(with.map(|read| &read.result)),
        level(without.as_ref()),
    );
    Ok(with
        .zip(without)
        .map_or(0.0, |(with, without)| 1.0 - with / without))
}

/// The same run with everything put right.
fn sound(plan: &Plan, spec: &RunSpec) -> RunSpec {
    let mut sound = spec.clone();
    sound.throttle = 1.0;
    sound.turning = scaled(spec.turning, 1.0 / plan.slowed);
    sound.tester.leak_mm2 = 0.0;
    if let Some(valve) = &mut sound.tester.check_valve {
        valve.leak_mm2 = 0.0;
    }
    sound.engine.gaskets.clear();
    sound.engine.cylinders.clone_from(&plan.sound);
    sound
}

/// What the analysis reads of a simulated run; none where it finds no run in it.
pub fn read(spec: &RunSpec, card: &JobCard, samples: &[simulate::Sample]) -> Option<RunResult> {
    let sensor = spec.sensor;
    let mut analyser = Analyser::new(Settings {
        turned: card.engine.start.map(|start| match start {
            Start::Electric => Turned::ByStarter,
            Start::HandCrank => Turned::ByHand,
            Start::Kick | Start::PullCord => Turned::InKicks,
        }),
        ambient: Pressure::from_kpa(spec.surroundings.ambient_kpa),
        resolution: Pressure::from_kpa(sensor.resolution_kpa),
        // A quarter of a per cent of 1500 kPa: what the population's sensors are drawn with.
        accuracy_standard: Pressure::from_kpa(4.0),
        range_max: Some(Pressure::from_kpa(sensor.range_max_kpa)),
        sample_period: Some(Time::from_s(1.0 / sensor.rate_hz)),
        ..Settings::default()
    });
    let mut events = Vec::new();
    let mut gap = false;
    for sample in samples {
        if sample.lost {
            gap = true;
            continue;
        }
        let taken = Sample {
            time: sample.sensor_time,
            pressure: sample.pressure,
            clipped: sample.out_of_range,
            gap_before: std::mem::take(&mut gap),
        };
        analyser.push(taken, &mut events);
    }
    analyser.finish(&mut events);
    events.into_iter().rev().find_map(|event| match event {
        Event::RunEnded(result) => Some(*result),
        _ => None,
    })
}
