//! One run of the corpus: simulated, analysed, and held against what was true.

use super::corpus::{Case, Fault, Starter};
use crate::signal::{Analyser, Event, Flag, Outcome, Rig, RunResult, Sample, Settings};
use crate::simulate::{self, RunTrace, SimulateError, TrueStroke};
use crate::units::{Pressure, Time};

/// Why nothing was called.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Refusal {
    /// The sensor's range or its sample rate.
    Sensor,
    /// The strokes are too uneven for so few of them.
    Uneven,
}

/// How a run of the corpus came out.
#[derive(Clone, Debug)]
pub(super) struct Score {
    pub(super) index: u64,
    pub(super) rig: Rig,
    pub(super) starter: Starter,
    pub(super) fault: Fault,
    pub(super) rate_hz: f64,
    pub(super) rig_found: Option<Rig>,
    /// Some sample was beyond the sensor's range.
    pub(super) out_of_range: bool,
    /// What the sensor would show at the plateau if it had neither noise nor resolution, Pa.
    pub(super) plateau_pa: f64,
    pub(super) tolerance_pa: f64,
    pub(super) outcome: Outcome,
    /// Why nothing may be called on these data, where the flags say so.
    pub(super) refused: Option<Refusal>,
    /// Refused, though the data held the answer.
    pub(super) needless: bool,
    /// Every call: true strokes made by then, and its error (Pa).
    pub(super) calls: Vec<(u32, f64)>,
    /// The largest error of a call against cranking on without variation, for comparison (Pa).
    pub(super) steady_error_pa: f64,
    pub(super) withdrawn: u32,
    pub(super) oracle: Option<u32>,
    pub(super) strokes_true: u32,
    /// Error of the final reading against the sensor's plateau, and against the true one (Pa).
    pub(super) error_pa: Option<f64>,
    pub(super) true_error_pa: Option<f64>,
    pub(super) expanded_pa: Option<f64>,
    /// Strokes found that were made; found but not made; to be seen but not found.
    pub(super) hits: u32,
    pub(super) phantoms: u32,
    pub(super) overlooked: u32,
    pub(super) runs: u32,
}

impl Score {
    /// Called settled while more than the tolerance from the truth.
    pub(super) fn false_call(&self) -> bool {
        self.calls
            .iter()
            .any(|(_, error)| error.abs() > self.tolerance_pa)
    }
    /// The plateau had been reached for six strokes and more, and nothing was called.
    pub(super) fn missed_call(&self) -> bool {
        self.calls.is_empty()
            && self.refused.is_none()
            && self
                .oracle
                .is_some_and(|oracle| self.strokes_true >= oracle + 6)
    }
    /// Strokes made beyond the oracle's when it was called. Where the run ended before the oracle
    /// would have spoken, it would have done so at the next stroke at the earliest.
    pub(super) fn beyond(&self) -> Option<i64> {
        let (made, _) = self.calls.first()?;
        let oracle = self.oracle.unwrap_or(self.strokes_true + 1);
        Some(i64::from(*made) - i64::from(oracle))
    }
    pub(super) fn covered(&self) -> Option<bool> {
        Some(self.true_error_pa?.abs() <= self.expanded_pa?)
    }
}

/// Simulates and analyses one case.
pub(super) fn score(case: &Case, index: u64) -> Result<Score, SimulateError> {
    let trace = simulate::run(&case.spec)?;
    let going_on = going_on(case, trace.truth.strokes.len())?;
    Ok(judge(case, index, &trace, &going_on))
}

/// Strokes that the same person makes after the run, in the same way. A starter does not vary, so
/// there the truth of the simulation (cranked on until nothing changes) will do.
fn going_on(case: &Case, made: usize) -> Result<Vec<TrueStroke>, SimulateError> {
    if case.starter == Starter::Electric {
        return Ok(Vec::new());
    }
    let mut spec = case.spec.clone();
    spec.program.strokes += MORE;
    spec.program.crank_at_most_s += 60.0;
    (
        spec.program.hold_s,
        spec.program.bleed_s,
        spec.program.rest_s,
    ) = (0.0, 0.0, 0.0);
    let mut strokes = simulate::strokes(&spec)?;
    Ok(strokes.split_off(made.min(strokes.len())))
}

/// What the analyser is told about the sensor of this case.
pub(super) fn settings(case: &Case, plateau: Pressure) -> Settings {
    let sensor = &case.spec.sensor;
    Settings {
        resolution: Pressure::from_kpa(sensor.resolution_kpa),
        // The data sheet's share of the reading, taken at the reading.
        accuracy_standard: plateau * case.accuracy_pa,
        range_max: Some(Pressure::from_kpa(sensor.range_max_kpa)),
        sample_period: Some(Time::from_s(1.0 / sensor.rate_hz)),
        ..Settings::default()
    }
}

pub(super) fn judge(case: &Case, index: u64, trace: &RunTrace, going_on: &[TrueStroke]) -> Score {
    let truth = &trace.truth;
    let plateau = Pressure::from_pa(needle(case, going_on).unwrap_or(truth.plateau.pa()));
    let settings = settings(case, plateau);
    let shown = plateau.pa() * (1.0 + case.spec.sensor.span_error);
    let mut analyser = Analyser::new(settings);
    let (mut events, mut calls, mut results) = (Vec::new(), Vec::new(), Vec::new());
    let (mut gap, mut withdrawn, mut now) = (false, 0, 0.0);
    let mut steady_error: f64 = 0.0;
    let steady = truth.plateau.pa() * (1.0 + case.spec.sensor.span_error);
    let mut take = |events: &mut Vec<Event>, now: f64| {
        for event in events.drain(..) {
            match event {
                Event::Settled(reading) => {
                    let made = truth.strokes.iter().filter(|s| s.time.s() <= now).count();
                    let strokes = &truth.strokes[..made];
                    let off = error_of_call(case, strokes, reading.value.pa(), shown);
                    let by_steady = error_of_call(case, strokes, reading.value.pa(), steady);
                    steady_error = steady_error.max(by_steady.abs());
                    calls.push((made as u32, off));
                }
                Event::Withdrawn { .. } => withdrawn += 1,
                Event::RunEnded(run) => results.push(*run),
                _ => {}
            }
        }
    };
    for sample in &trace.samples {
        if sample.lost {
            gap = true;
            continue;
        }
        now = sample.time.s();
        analyser.push(
            Sample {
                time: sample.sensor_time,
                pressure: sample.pressure,
                clipped: sample.out_of_range,
                gap_before: std::mem::take(&mut gap),
            },
            &mut events,
        );
        take(&mut events, now);
    }
    analyser.finish(&mut events);
    take(&mut events, now);
    let run = results.iter().max_by_key(|run| run.strokes.len());
    let reading = run.and_then(|run| run.reading.as_ref());
    let (hits, phantoms, overlooked) = count_strokes(case, &truth.strokes, &results, plateau.pa());
    let refused = run
        .filter(|_| calls.is_empty())
        .and_then(|run| run.flags.iter().find_map(refusal));
    let tolerance = settings.tolerance(Pressure::from_pa(shown)).pa();
    let error =
        reading.map(|reading| error_of_call(case, &truth.strokes, reading.value.pa(), shown));
    Score {
        index,
        rig: case.rig,
        starter: case.starter,
        fault: case.fault,
        rate_hz: case.rate_hz,
        rig_found: run.and_then(|run| run.rig),
        out_of_range: trace.samples.iter().any(|sample| sample.out_of_range),
        plateau_pa: shown,
        tolerance_pa: tolerance,
        outcome: run.map_or(Outcome::NoReading, |run| run.outcome),
        refused,
        needless: refused.is_some()
            && case.fault != Fault::Clipped
            && match error {
                Some(error) => error.abs() <= tolerance,
                None => tops_sampled(case, trace, tolerance) >= TOPS_ENOUGH,
            },
        calls,
        steady_error_pa: steady_error,
        withdrawn,
        oracle: oracle(case, &truth.strokes, plateau.pa()),
        strokes_true: truth.strokes.len() as u32,
        error_pa: error,
        true_error_pa: error.map(|error| error + shown - plateau.pa()),
        expanded_pa: reading.map(|reading| reading.expanded.pa()),
        hits,
        phantoms,
        overlooked,
        runs: results.len() as u32,
    }
}

/// How many strokes more the same person makes, …
const MORE: u32 = 40;
/// … of which the first are left out: the tester may still be filling.
const SETTLING: usize = 10;
/// A pause between kicks or pulls is longer than this (s).
const PAUSE_S: f64 = 0.5;

/// A kick or a pull below this share of the best one failed, and counts no more than it would with
/// the person.
const FAILED: f64 = 0.85;

/// Where the needle comes to when the same person goes on: the median of the highest pressures
/// shown by each kick, pull or turn.
fn needle(case: &Case, going_on: &[TrueStroke]) -> Option<f64> {
    let bursts = matches!(case.starter, Starter::Kick | Starter::PullCord);
    let mut tops: Vec<f64> = Vec::new();
    let mut last = f64::NEG_INFINITY;
    for stroke in going_on.iter().skip(SETTLING) {
        let (time, shown) = (stroke.time.s(), stroke.shown_peak.pa());
        match tops.last_mut() {
            Some(top) if bursts && time - last < PAUSE_S => *top = top.max(shown),
            _ => tops.push(shown),
        }
        last = time;
    }
    if bursts {
        let highest = tops.iter().copied().fold(0.0, f64::max);
        tops.retain(|top| *top >= FAILED * highest);
    }
    tops.sort_unstable_by(f64::total_cmp);
    let upper = *tops.get(tops.len() / 2)?;
    let lower = *tops.get((tops.len() - 1) / 2)?;
    Some(f64::midpoint(lower, upper))
}

/// Error of a reading. Oil seals for some strokes and then thins out, so the plateau of a wet run
/// is no single level: anything from the highest that was shown by then down to where it ends is
/// as true.
fn error_of_call(case: &Case, made: &[TrueStroke], value: f64, plateau: f64) -> f64 {
    if case.fault != Fault::Wet {
        return value - plateau;
    }
    let highest = made.iter().map(|s| s.shown_peak.pa()).fold(0.0, f64::max);
    let highest = highest * (1.0 + case.spec.sensor.span_error);
    value - value.clamp(plateau.min(highest), plateau.max(highest))
}

/// So many tops must have been sampled for a fit to be able to tell.
const TOPS_ENOUGH: usize = 3;

/// Strokes whose highest sample came within the tolerance of their top: no fit is needed to read
/// them, only to know which they are.
fn tops_sampled(case: &Case, trace: &RunTrace, tolerance: f64) -> usize {
    if case.rig == Rig::Holding {
        return 0;
    }
    let reach = 1.0 / case.rate_hz;
    let near = |stroke: &&TrueStroke| {
        trace.samples.iter().any(|sample| {
            !sample.lost
                && (sample.time - stroke.time).s().abs() <= reach
                && (sample.pressure - stroke.shown_peak).pa().abs() <= tolerance
        })
    };
    trace.truth.strokes.iter().filter(near).count()
}

/// In the order of the flags, which tell of the sensor first.
fn refusal(flag: &Flag) -> Option<Refusal> {
    match flag {
        Flag::Clipped { .. } | Flag::Undersampled { .. } => Some(Refusal::Sensor),
        Flag::UnevenStrokes { .. } => Some(Refusal::Uneven),
        _ => None,
    }
}

/// First stroke at which the tester shows the plateau to within the tolerance: neither below it,
/// nor above it, as with a shut throttle.
fn oracle(case: &Case, strokes: &[TrueStroke], plateau: f64) -> Option<u32> {
    let tolerance = (0.01 * plateau).max(2e3 * case.spec.sensor.resolution_kpa);
    let at = strokes
        .iter()
        .position(|stroke| (plateau - stroke.shown_peak.pa()).abs() <= tolerance)?;
    Some(at as u32 + 1)
}

/// A stroke on a holding rig can be seen when it lifts the level by this share of the plateau, …
const SEEN_SHARE: f64 = 0.002;
/// … this many steps of the sensor, …
const SEEN_STEPS: f64 = 2.0;
/// … and this many standard deviations of its noise.
const SEEN_NOISE: f64 = 4.0;

fn count_strokes(
    case: &Case,
    made: &[TrueStroke],
    runs: &[RunResult],
    plateau: f64,
) -> (u32, u32, u32) {
    let sensor = &case.spec.sensor;
    let times: Vec<f64> = runs
        .iter()
        .flat_map(|run| &run.strokes)
        .map(|stroke| stroke.time.s())
        .collect();
    let mut used = vec![false; times.len()];
    let mut overlooked = 0;
    let mut hits = 0;
    let mut held: f64 = 0.0;
    for (i, stroke) in made.iter().enumerate() {
        let before = i
            .checked_sub(1)
            .and_then(|i| made.get(i))
            .map_or(1.0, |s| stroke.time.s() - s.time.s());
        let after = made
            .get(i + 1)
            .map_or(1.0, |s| s.time.s() - stroke.time.s());
        // A slow sensor cannot time a stroke better than its own pace.
        let reach = (0.5 * before.min(after).min(0.5)).max(1.2 / case.rate_hz);
        let found = times
            .iter()
            .enumerate()
            .filter(|(j, t)| !used[*j] && (**t - stroke.time.s()).abs() <= reach)
            .min_by(|a, b| {
                (a.1 - stroke.time.s())
                    .abs()
                    .total_cmp(&(b.1 - stroke.time.s()).abs())
            });
        let to_be_seen = match case.rig {
            Rig::Following => stroke.shown_peak.pa() > (0.2 * plateau).max(2e4),
            Rig::Holding => {
                let lift = stroke.shown_peak.pa() - held;
                let seen = (SEEN_SHARE * plateau)
                    .max(SEEN_STEPS * 1e3 * sensor.resolution_kpa)
                    .max(SEEN_NOISE * 1e3 * sensor.noise_kpa);
                lift > seen && lift > 6e3_f64.min(0.01 * plateau)
            }
        };
        held = stroke.held.pa();
        if let Some((j, _)) = found {
            used[j] = true;
            hits += 1;
        } else if to_be_seen {
            overlooked += 1;
        }
    }
    let phantoms = used.iter().filter(|used| !**used).count() as u32;
    (hits, phantoms, overlooked)
}
