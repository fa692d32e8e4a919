//! A visit simulated and read: samples through the same analysis as a recording.
//!
//! Whoever makes the visit does as the tool says: goes on cranking until the reading has settled
//! (or gives up), repeats a run that gave no reading, and wets the cylinders that read low and
//! the best one beside them.

use super::engines::scaled;
use super::faults::is_leak;
use super::population::{Truth, Visit, Wetting};
use crate::assess::{CauseKind, RunInput};
use crate::engine::expected::{crank_speed, expected};
use crate::engine::{Ambient, Condition, JobCard};
use crate::signal::{Analyser, Event, Outcome, RunResult, Sample, Settings};
use crate::simulate::{self, RunSpec, SimulateError};
use crate::units::{Pressure, Time};
use serde::{Deserialize, Serialize};

/// A run as it was read.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Read {
    pub cylinder: String,
    pub condition: Condition,
    pub result: RunResult,
}

/// A cylinder's truth with what its faults do to the reading.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Known {
    pub truth: Truth,
    /// Reading ÷ reading without anything the matter − 1; 0 for a healthy cylinder.
    pub change: f64,
}

impl Known {
    /// The share by which a leak lowers the reading; 0 where nothing leaks.
    pub(super) fn drop(&self) -> f64 {
        if is_leak(self.truth.cause) {
            (-self.change).max(0.0)
        } else {
            0.0
        }
    }
}

/// A visit as it was read.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Seen {
    pub card: JobCard,
    pub reads: Vec<Read>,
    pub known: Vec<Known>,
    pub cause: CauseKind,
    pub severity: f64,
    /// It leaks in a second place.
    pub two_leaks: bool,
    /// The card states a wrong figure.
    #[serde(default)]
    pub card_wrong: bool,
    /// Runs made that gave no reading and were repeated.
    #[serde(default)]
    pub repeated: u32,
}

/// Strokes up to which a dry run that has not settled is gone on with; then whoever cranks gives
/// up. A wet one is not: the oil leaves, and the level falls.
const GOES_ON_TO: [u32; 2] = [17, 28];
/// Below this share of the best cylinder (or of what the card lets expect) a cylinder is wetted.
const READS_LOW: f64 = 0.93;

impl Seen {
    /// The runs as the assessment takes them.
    pub(super) fn inputs(&self) -> Vec<RunInput<'_>> {
        self.reads
            .iter()
            .enumerate()
            .map(|(index, read)| RunInput {
                index,
                cylinder: read.cylinder.clone(),
                condition: read.condition,
                void: false,
                result: &read.result,
            })
            .collect()
    }

    /// Whether a cylinder has a wet reading.
    pub(super) fn wetted(&self, cylinder: &str) -> bool {
        self.reads.iter().any(|read| {
            read.cylinder == cylinder
                && read.condition == Condition::Wet
                && read.result.reading.is_some()
        })
    }

    /// The most that leaks or a late cam lower any cylinder's reading, a share of it. What is the
    /// matter with the test alone makes no engine bad.
    pub(super) fn worst_drop(&self) -> f64 {
        let of_engine = |known: &&Known| {
            is_leak(known.truth.cause) || known.truth.cause == CauseKind::ValveTiming
        };
        let drops = self
            .known
            .iter()
            .filter(of_engine)
            .map(|known| -known.change);
        drops.fold(0.0, f64::max)
    }
}

/// Simulates and reads a visit.
pub(super) fn see(visit: &Visit) -> Result<Seen, SimulateError> {
    let mut made = Made::default();
    for spec in &visit.dry {
        made.run(spec)?;
    }
    let low = low(visit, &made.reads);
    for spec in &visit.wet {
        let wanted = match visit.wetting {
            Wetting::None => false,
            Wetting::Low => low.contains(&spec.cylinder),
            Wetting::Every => true,
        };
        if wanted {
            made.run(spec)?;
        }
    }
    let known = visit
        .truths
        .iter()
        .map(|truth| {
            Ok(Known {
                change: change_of(visit, truth, &made)?,
                truth: truth.clone(),
            })
        })
        .collect::<Result<_, SimulateError>>()?;
    Ok(Seen {
        card: visit.card.clone(),
        reads: made.reads,
        known,
        cause: visit.cause,
        severity: visit.severity,
        two_leaks: visit.two_leaks,
        card_wrong: visit.card_wrong,
        repeated: made.repeated,
    })
}

/// The runs made so far.
#[derive(Default)]
struct Made {
    /// As they were made at last: with the strokes that were needed.
    specs: Vec<RunSpec>,
    reads: Vec<Read>,
    repeated: u32,
}

impl Made {
    /// Makes a run: on until it has settled; once more where it gave no reading.
    fn run(&mut self, planned: &RunSpec) -> Result<(), SimulateError> {
        let (mut spec, mut result) = until_settled(planned)?;
        if result.as_ref().is_none_or(|run| run.reading.is_none()) {
            self.repeated += 1;
            let again = RunSpec {
                seed: planned.seed ^ 1,
                ..planned.clone()
            };
            (spec, result) = until_settled(&again)?;
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

/// The run as planned, gone on with while it has not settled.
fn until_settled(planned: &RunSpec) -> Result<(RunSpec, Option<RunResult>), SimulateError> {
    let mut spec = planned.clone();
    let mut result = read(&spec, &simulate::samples(&spec)?);
    for strokes in GOES_ON_TO {
        let settled = result
            .as_ref()
            .is_some_and(|run| run.outcome == Outcome::Settled);
        if settled || planned.condition == Condition::Wet {
            break;
        }
        spec.program.strokes = strokes;
        result = read(&spec, &simulate::samples(&spec)?);
    }
    Ok((spec, result))
}

/// The cylinders that read low, and the best one. Where all read alike and less than the card
/// lets expect, that is every one.
fn low(visit: &Visit, reads: &[Read]) -> Vec<String> {
    let Some(condition) = visit.dry.last().map(|spec| spec.condition) else {
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
    let should = should_read(&visit.card, best).unwrap_or(*highest);
    levels
        .iter()
        .filter(|(read, level)| {
            read.cylinder == best.cylinder || *level < READS_LOW * highest.max(should)
        })
        .map(|(read, _)| read.cylinder.clone())
        .collect()
}

/// What the card lets a tight cylinder read, in pascal.
fn should_read(card: &JobCard, read: &Read) -> Option<f64> {
    let engine = &card.engine;
    let cadence = read.result.cadence.as_ref();
    let crank = cadence.and_then(|c| crank_speed(c.median, engine.cycle, engine.start));
    let ambient = Ambient::of(card.site.as_ref());
    Some(expected(card, &ambient, crank, read.condition)?.likely.pa())
}

/// What the faults do to a cylinder's dry reading: against a run without them.
fn change_of(visit: &Visit, truth: &Truth, made: &Made) -> Result<f64, SimulateError> {
    let condition = visit.dry.last().map(|spec| spec.condition);
    let dry = made
        .specs
        .iter()
        .find(|spec| spec.cylinder == truth.name && Some(spec.condition) == condition)
        .filter(|_| truth.cause != CauseKind::Healthy);
    let Some(spec) = dry else {
        return Ok(0.0);
    };
    let with = made
        .reads
        .iter()
        .find(|read| read.cylinder == truth.name && read.condition == spec.condition);
    let sound = sound(visit, truth, spec);
    let without = read(&sound, &simulate::samples(&sound)?);
    let level = |result: Option<&RunResult>| result?.reading.as_ref().map(|r| r.value.pa());
    let (with, without) = (
        level(with.map(|read| &read.result)),
        level(without.as_ref()),
    );
    Ok(with
        .zip(without)
        .map_or(0.0, |(with, without)| with / without - 1.0))
}

/// The same run with everything put right.
fn sound(visit: &Visit, truth: &Truth, spec: &RunSpec) -> RunSpec {
    let mut sound = spec.clone();
    sound.throttle = 1.0;
    sound.turning = scaled(spec.turning, 1.0 / visit.slowed);
    sound.tester.leak_mm2 = 0.0;
    if let Some(valve) = &mut sound.tester.check_valve {
        valve.leak_mm2 = 0.0;
    }
    sound.engine.gaskets.clear();
    for cylinder in &mut sound.engine.cylinders {
        if cylinder.name == truth.name {
            cylinder.ring_leak_mm2 = truth.healthy_mm2;
            cylinder.intake_leak_mm2 = 0.0;
            cylinder.exhaust_leak_mm2 = 0.0;
            cylinder.deposits_cm3 = 0.0;
            cylinder.cam_late_deg = 0.0;
        }
    }
    sound
}

/// What the analysis reads of a simulated run; none where it finds no run in it.
pub(super) fn read(spec: &RunSpec, samples: &[simulate::Sample]) -> Option<RunResult> {
    let sensor = spec.sensor;
    let mut analyser = Analyser::new(Settings {
        ambient: Pressure::from_kpa(spec.surroundings.ambient_kpa),
        resolution: Pressure::from_kpa(sensor.resolution_kpa),
        // A quarter of a per cent of 1500 kPa: what the population's sensors are drawn with.
        accuracy_standard: Pressure::from_kpa(4.0),
        range_max: Some(Pressure::from_kpa(sensor.range_max_kpa)),
        sample_period: Some(Time::from_s(1.0 / sensor.rate_hz)),
        ..Settings::default()
    });
    let mut events = Vec::new();
    for sample in samples {
        let taken = Sample {
            time: sample.sensor_time,
            pressure: sample.pressure,
            clipped: sample.out_of_range,
            gap_before: false,
        };
        analyser.push(taken, &mut events);
    }
    analyser.finish(&mut events);
    events.into_iter().rev().find_map(|event| match event {
        Event::RunEnded(result) => Some(*result),
        _ => None,
    })
}
