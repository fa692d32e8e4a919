//! The test's own quality: which flags a run earns.

use super::context::{Context, STROKES_KEPT};
use super::flags;

use crate::signal::results::{Flag, Outcome, Rig, RunResult};
use crate::units::Pressure;

/// Standard deviation of what interpolation adds, as a share of the cut-off, where samples fall
/// evenly on the tops: that of x² for x uniform in ±1/2 over its largest value, 4 / sqrt(180).
pub(super) const SPREAD: f64 = 0.298;
/// What of the doubt about the shape between samples (of its variance) is the same in all strokes,
/// where samples fall differently on each.
pub(super) const SHAPE: f64 = 0.15;
/// From this cut-off on the user is told.
const CUT_OFF_TOLD: f64 = 0.05;
/// Strokes below which a result is hardly one (TM 5-4210-230-14&P-1 asks for five strokes or the
/// highest value).
const FEW: u32 = 3;
/// Zero further off than this share of the ambient pressure is told.
const OFFSET_TOLD: f64 = 0.05;
/// Median deviation of intervals from which cranking counts as uneven; common practice, no source.
const UNEVEN: f64 = 0.2;
/// Strokes a second below which cranking counts as slow: 100 crank turns a minute on a four-stroke;
/// common practice, no source.
const SLOW_HZ: f64 = 100.0 / 120.0;
/// A fall of this share of the level per second makes the tester leaky; common practice, no source.
const LEAKY: f64 = 0.002;
/// A reading below this multiple of the ambient pressure may mean a shut throttle; common
/// practice, no source.
const LOW: f64 = 4.0;
/// A ratio above this means that the hose is large for the engine.
const SLOW_RATIO: f64 = 0.6;

/// What the run counted.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tally {
    pub(super) strokes: u32,
    pub(super) clipped_samples: u64,
    pub(super) refused_samples: u64,
    pub(super) withdrawn: u32,
    /// By what share of their height the sample rate may have cut the strokes, on average.
    pub(super) cut_off_share: f64,
}

/// Adds flags and grade.
pub(super) fn judge(result: &mut RunResult, context: &Context<'_>, tally: &Tally) {
    let mut flags = Vec::new();
    about_strokes(result, tally, &mut flags);
    about_sensor(result, context, tally, &mut flags);
    about_cranking(result, context, tally, &mut flags);
    result.grade = flags::grade(&flags);
    result.flags = flags;
}

fn about_strokes(result: &RunResult, tally: &Tally, flags: &mut Vec<Flag>) {
    let strokes = tally.strokes;
    if strokes == 0 {
        flags.push(Flag::NoStrokes);
        return;
    }
    if strokes < FEW {
        flags.push(Flag::TooFewStrokes { strokes });
    }
    if result.outcome == Outcome::StillClimbing {
        flags.push(Flag::StoppedEarly {
            strokes: result.count,
        });
    }
    if tally.withdrawn > 0 {
        flags.push(Flag::Withdrawn {
            times: tally.withdrawn,
        });
    }
    if result.rig.is_none() {
        flags.push(Flag::RigUnclear);
    }
    let missing = result
        .strokes
        .iter()
        .filter(|stroke| stroke.packets_missing)
        .count();
    if missing > 0 {
        flags.push(Flag::LostInStroke {
            strokes: u32::try_from(missing).unwrap_or(u32::MAX),
        });
    }
    if let Some(more) = strokes
        .checked_sub(STROKES_KEPT as u32)
        .filter(|more| *more > 0)
    {
        flags.push(Flag::StrokesNotListed { strokes: more });
    }
}

fn about_sensor(result: &RunResult, context: &Context<'_>, tally: &Tally, flags: &mut Vec<Flag>) {
    let settings = context.settings;
    if result.zero.measured {
        let expected = if settings.absolute {
            settings.ambient
        } else {
            Pressure::ZERO
        };
        let offset = result.zero.level - expected;
        // A barometer moves by some per cent; an absolute sensor's zero is the barometer.
        let told = if settings.absolute { 8.0 } else { 1.0 } * OFFSET_TOLD * settings.ambient.pa();
        if offset.pa().abs() > told {
            flags.push(Flag::ZeroOffset { offset });
        }
    } else {
        flags.push(Flag::NotZeroed);
    }
    if tally.clipped_samples > 0 {
        flags.push(Flag::Clipped {
            samples: tally.clipped_samples,
        });
    }
    if tally.refused_samples > 0 {
        flags.push(Flag::BadSamples {
            samples: tally.refused_samples,
        });
    }
    let cut_off_share = tally.cut_off_share;
    if result.rig == Some(Rig::Following) && cut_off_share > CUT_OFF_TOLD {
        flags.push(Flag::Undersampled { cut_off_share });
    }
}

fn about_cranking(result: &RunResult, context: &Context<'_>, tally: &Tally, flags: &mut Vec<Flag>) {
    if let Some(cadence) = &result.cadence {
        let steadily = result.turned.steadily();
        if steadily && cadence.unevenness > UNEVEN {
            flags.push(Flag::UnevenCadence {
                unevenness: cadence.unevenness,
            });
        }
        if steadily && cadence.median.hz() < SLOW_HZ {
            flags.push(Flag::SlowCadence {
                median: cadence.median,
            });
        }
    }
    let (Some(fit), true) = (&result.build_up, tally.strokes >= FEW) else {
        return;
    };
    if fit.plateau.pa() < LOW * context.settings.ambient.pa() {
        flags.push(Flag::ThrottleMayBeShut {
            reading: fit.plateau,
        });
    }
    if result.rig == Some(Rig::Holding) && fit.ratio > SLOW_RATIO && fit.first_share < 0.5 {
        flags.push(Flag::SlowBuildUp {
            first_share: fit.first_share,
        });
    }
    if let Some(droop) = &result.droop {
        let fall = droop.per_second.pa();
        let sure = fall > 3.0 * droop.per_second_standard.pa();
        if sure && fall > LEAKY * fit.plateau.pa() {
            flags.push(Flag::TesterLeaks {
                per_second: droop.per_second,
            });
        }
    }
}

#[cfg(test)]
mod tests;
