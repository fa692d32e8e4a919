//! A visit simulated and read: samples through the same analysis as a recording.

use super::population::{Truth, Visit};
use crate::assess::{CauseKind, RunInput};
use crate::engine::{Condition, JobCard};
use crate::signal::{Analyser, Event, RunResult, Sample, Settings};
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

/// A cylinder's truth with the share by which its fault lowers the reading.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Known {
    pub truth: Truth,
    /// 1 − reading ÷ reading without the fault; 0 for a healthy cylinder.
    pub drop: f64,
}

/// A visit as it was read.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Seen {
    pub card: JobCard,
    pub reads: Vec<Read>,
    pub known: Vec<Known>,
    pub cause: CauseKind,
    pub severity: f64,
}

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

    /// Whether a cylinder has a wet run.
    pub(super) fn wetted(&self, cylinder: &str) -> bool {
        self.reads
            .iter()
            .any(|read| read.cylinder == cylinder && read.condition == Condition::Wet)
    }

    /// The largest drop of any cylinder.
    pub(super) fn worst_drop(&self) -> f64 {
        self.known
            .iter()
            .map(|known| known.drop)
            .fold(0.0, f64::max)
    }
}

/// Simulates and reads a visit.
pub(super) fn see(visit: &Visit) -> Result<Seen, SimulateError> {
    let mut reads = Vec::new();
    for spec in &visit.runs {
        let samples = simulate::samples(spec)?;
        reads.extend(read(spec, &samples).map(|result| Read {
            cylinder: spec.cylinder.clone(),
            condition: spec.condition,
            result,
        }));
    }
    let known = visit
        .truths
        .iter()
        .map(|truth| {
            Ok(Known {
                drop: drop_of(visit, truth, &reads)?,
                truth: truth.clone(),
            })
        })
        .collect::<Result<_, SimulateError>>()?;
    Ok(Seen {
        card: visit.card.clone(),
        reads,
        known,
        cause: visit.cause,
        severity: visit.severity,
    })
}

/// By what share a leak lowers a cylinder's dry reading: against a run without it.
fn drop_of(visit: &Visit, truth: &Truth, reads: &[Read]) -> Result<f64, SimulateError> {
    let leaks = matches!(
        truth.cause,
        CauseKind::Rings | CauseKind::Valve | CauseKind::Gasket
    );
    let dry = visit
        .runs
        .iter()
        .find(|spec| spec.cylinder == truth.name && spec.condition != Condition::Wet)
        .filter(|_| leaks);
    let Some(spec) = dry else {
        return Ok(0.0);
    };
    let with = reads
        .iter()
        .find(|read| read.cylinder == truth.name && read.condition == spec.condition);
    let mut sound = spec.clone();
    sound.engine.gaskets.clear();
    for cylinder in &mut sound.engine.cylinders {
        if cylinder.name == truth.name {
            cylinder.ring_leak_mm2 = truth.healthy_mm2;
            cylinder.intake_leak_mm2 = 0.0;
            cylinder.exhaust_leak_mm2 = 0.0;
        }
    }
    let without = read(&sound, &simulate::samples(&sound)?);
    let level = |result: Option<&RunResult>| result?.reading.as_ref().map(|r| r.value.pa());
    let (with, without) = (
        level(with.map(|read| &read.result)),
        level(without.as_ref()),
    );
    Ok(with
        .zip(without)
        .map_or(0.0, |(with, without)| (1.0 - with / without).max(0.0)))
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
