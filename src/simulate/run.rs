//! One run: quiet, cranking, holding, bleeding, rest.

use super::SimulateError;
use super::machine::{Machine, Moment};
use super::radio;
use super::random::Draws;
use super::sensor::{Sample, Sampler};
use super::shape::cycle_angle;
use super::spec::{RunSpec, Tester};
use super::strokes::{StrokeFinder, TrueStroke};
use super::truth::{RunTruth, oracle_stroke};
use crate::units::{Pressure, Time};

/// A simulated run.
#[derive(Clone, Debug, PartialEq)]
pub struct RunTrace {
    /// What the sensor gave.
    pub samples: Vec<Sample>,
    /// What was true.
    pub truth: RunTruth,
}

/// Simulates one run.
///
/// # Errors
/// When the description is impossible, the engine does not turn over, or the integration goes
/// astray.
pub fn run(spec: &RunSpec) -> Result<RunTrace, SimulateError> {
    run_watched(spec, |_| ())
}

/// What the sensor gives in a run, without what was true: in about half the time of [`run`].
///
/// # Errors
/// As [`run`].
pub fn samples(spec: &RunSpec) -> Result<Vec<Sample>, SimulateError> {
    let mut sampler = Sampler::new(spec.sensor, Draws::new(spec.seed, 2));
    let mut samples = Vec::new();
    enact(spec, 0.0, &mut sampler, &mut samples, |_| ())?;
    radio::mark_lost(&mut samples, &spec.radio, spec.seed);
    Ok(samples)
}

/// The true strokes of a run alone: what the same person makes of the same engine.
///
/// # Errors
/// As [`run`].
pub fn strokes(spec: &RunSpec) -> Result<Vec<TrueStroke>, SimulateError> {
    let mut sampler = Sampler::new(spec.sensor, Draws::new(spec.seed, 2));
    let enacted = enact(spec, 0.0, &mut sampler, &mut Vec::new(), |_| ())?;
    Ok(enacted.finder.into_strokes())
}

/// As [`run`], and shows every step of the machine to `watch`.
///
/// # Errors
/// As [`run`].
pub fn run_watched(spec: &RunSpec, watch: impl FnMut(&Moment)) -> Result<RunTrace, SimulateError> {
    let mut sampler = Sampler::new(spec.sensor, Draws::new(spec.seed, 2));
    let mut samples = Vec::new();
    let truth = perform(spec, 0.0, &mut sampler, &mut samples, watch)?;
    radio::mark_lost(&mut samples, &spec.radio, spec.seed);
    Ok(RunTrace { samples, truth })
}

/// Makes one run from `start` (s) on the sampler's clock. Times of the truth are on that clock.
pub(super) fn perform(
    spec: &RunSpec,
    start: f64,
    sampler: &mut Sampler,
    samples: &mut Vec<Sample>,
    watch: impl FnMut(&Moment),
) -> Result<RunTruth, SimulateError> {
    let Enacted {
        finder,
        mut beyond,
        cycles,
        times: [begins, stops, bleeds, ends],
    } = enact(spec, start, sampler, samples, watch)?;
    let settled = settle(&mut beyond.0, &mut beyond.1)?;
    let perfect = perfect_gauge(spec, cycles)?;
    let mut strokes = finder.into_strokes();
    for stroke in &mut strokes {
        stroke.time = stroke.time + Time::from_s(start);
    }
    Ok(RunTruth {
        cylinder: spec.cylinder.clone(),
        condition: spec.condition,
        begins: Time::from_s(start),
        cranking_from: Time::from_s(start + begins),
        cranking_to: Time::from_s(start + stops),
        bled_at: Time::from_s(start + bleeds),
        ends: Time::from_s(start + ends),
        plateau: settled.shown,
        plateau_held: settled.held,
        perfect_gauge: perfect,
        oracle_stroke: oracle_stroke(&strokes, settled.shown, spec.sensor.resolution_kpa * 1e3),
        strokes,
    })
}

/// A run as it was made.
struct Enacted {
    finder: StrokeFinder,
    /// Machine and strokes as they were when cranking ended.
    beyond: (Machine, StrokeFinder),
    cycles: f64,
    /// Cranking begins and ends, bleeding begins, all ends (s from the run's start).
    times: [f64; 4],
}

/// Makes one run, without finding out what was true.
fn enact(
    spec: &RunSpec,
    start: f64,
    sampler: &mut Sampler,
    samples: &mut Vec<Sample>,
    mut watch: impl FnMut(&Moment),
) -> Result<Enacted, SimulateError> {
    let mut machine = Machine::new(spec)?;
    let ambient = machine.ambient();
    let mut finder = StrokeFinder::new(ambient, cycle_angle(spec.engine.cycle));
    let mut step = |machine: &mut Machine, finder: &mut StrokeFinder| {
        let moment = machine.advance()?;
        finder.feed(&moment);
        sampler.feed(start + moment.time, moment.tester - ambient, samples);
        watch(&moment);
        Ok::<(), SimulateError>(())
    };
    let program = spec.program;
    while machine.time() < program.quiet_s {
        step(&mut machine, &mut finder)?;
    }
    machine.crank(true);
    let begins = machine.time();
    let wanted = program.strokes as usize;
    while finder.strokes().len() < wanted {
        if machine.time() - begins > program.crank_at_most_s {
            break;
        }
        step(&mut machine, &mut finder)?;
    }
    let stops = machine.time();
    // What more cranking would have shown.
    let beyond = (machine.clone(), finder.clone());
    machine.crank(false);
    while machine.time() < stops + program.hold_s {
        step(&mut machine, &mut finder)?;
    }
    machine.bleed(true);
    let bleeds = machine.time();
    while machine.time() < bleeds + program.bleed_s + program.rest_s {
        step(&mut machine, &mut finder)?;
    }
    let ends = machine.time();
    if finder.strokes().is_empty() && wanted > 0 {
        return Err(SimulateError::Stalls {
            cylinder: spec.cylinder.clone(),
            seconds: program.crank_at_most_s,
        });
    }
    Ok(Enacted {
        finder,
        beyond,
        cycles: machine.cycles(),
        times: [begins, stops, bleeds, ends],
    })
}

/// Levels after very many strokes, gauge.
struct Settled {
    shown: Pressure,
    held: Pressure,
}

/// Cranks on, steadily, until more strokes change nothing.
fn settle(machine: &mut Machine, finder: &mut StrokeFinder) -> Result<Settled, SimulateError> {
    /// Two windows of so many strokes are compared; kicks and pulls differ within a burst.
    const WINDOW: usize = 4;
    /// How well the best of both windows have to agree.
    const WITHIN: f64 = 5e-4;
    /// At most so many strokes and seconds more.
    const STROKES: usize = 60;
    const SECONDS: f64 = 30.0;
    machine.settle();
    let (begins, already) = (machine.time(), finder.strokes().len());
    let mut looked_at = already;
    loop {
        let strokes = finder.strokes();
        let more = strokes.len() - already;
        let out_of_patience = more >= STROKES || machine.time() - begins > SECONDS;
        if strokes.len() > looked_at || out_of_patience {
            looked_at = strokes.len();
            // The last stroke has not been held yet.
            let done = &strokes[already.min(looked_at)..looked_at.saturating_sub(1)];
            if done.len() >= 2 * WINDOW || out_of_patience {
                let (before, last) = done.split_at(done.len().saturating_sub(WINDOW));
                let was = best(&before[before.len().saturating_sub(WINDOW)..]);
                let is = if last.is_empty() {
                    best(strokes)
                } else {
                    best(last)
                };
                let rise = is.shown.pa() - was.shown.pa();
                if rise.abs() <= WITHIN * is.shown.pa() || out_of_patience {
                    return Ok(is);
                }
            }
        }
        finder.feed(&machine.advance()?);
    }
}

/// The highest of all strokes.
fn best(strokes: &[TrueStroke]) -> Settled {
    let mut best = Settled {
        shown: Pressure::ZERO,
        held: Pressure::ZERO,
    };
    for stroke in strokes {
        best.shown = best.shown.max(stroke.shown_peak);
        best.held = best.held.max(stroke.held);
    }
    best
}

/// What a gauge without any volume would show on the same cylinder, cranked the same way.
fn perfect_gauge(spec: &RunSpec, cycles: f64) -> Result<Pressure, SimulateError> {
    let mut spec = spec.clone();
    spec.tester = Tester {
        adapter_cm3: 0.0,
        hose_cm3: 0.0,
        way_mm2: 0.0,
        check_valve: None,
        leak_mm2: 0.0,
        heat_w_per_k: 0.0,
        bleed_mm2: 0.0,
    };
    let mut machine = Machine::new(&spec)?;
    machine.work_oil_in(cycles);
    machine.settle();
    machine.crank(true);
    let mut finder = StrokeFinder::new(machine.ambient(), cycle_angle(spec.engine.cycle));
    while finder.strokes().len() < 5 && machine.time() < 20.0 {
        finder.feed(&machine.advance()?);
    }
    Ok(best(finder.strokes()).shown)
}
