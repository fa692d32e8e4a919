//! What goes into the analysis, and what comes out while it runs.

use super::results::{Flag, Reading, Rig, RunResult, Stroke, Zero};
use crate::units::{Pressure, Rate, Time};

/// One sample as the sensor told it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// On the stream's clock.
    pub time: Time,
    /// Before any zero is subtracted; absolute or gauge as [`Settings::absolute`] says.
    pub pressure: Pressure,
    /// The sensor was at the end of its range.
    pub clipped: bool,
    /// Samples are missing between this one and the one before it.
    pub gap_before: bool,
}

/// What is known about the sensor before the first sample, and what is asked of the reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// How the sensor sits; found from the data where it is not given.
    pub rig: Option<Rig>,
    /// The sensor tells absolute pressure.
    pub absolute: bool,
    /// Absolute pressure of the air around. Used to shape the top of a stroke and as the zero of
    /// an absolute sensor that was never seen at rest.
    pub ambient: Pressure,
    /// Tolerance of a settled reading as a share of it (0.01 = 1 %). Twice the resolution
    /// counts instead where that is more.
    pub tolerance_share: f64,
    /// The smallest difference that the sensor tells.
    pub resolution: Pressure,
    /// Standard uncertainty of the sensor's level, common to all runs made with it.
    pub accuracy_standard: Pressure,
    /// Upper end of the sensor's range, as it tells it.
    pub range_max: Option<Pressure>,
    /// Time between samples where it is known; measured otherwise.
    pub sample_period: Option<Time>,
    /// Only the strokes are wanted: no build-up, no decision and no reading.
    pub strokes_only: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            rig: None,
            absolute: false,
            ambient: Pressure::ATMOSPHERE,
            tolerance_share: 0.01,
            resolution: Pressure::ZERO,
            accuracy_standard: Pressure::ZERO,
            range_max: None,
            sample_period: None,
            strokes_only: false,
        }
    }
}

impl Settings {
    /// How close a reading near `level` must be to the plateau to count as settled.
    pub fn tolerance(&self, level: Pressure) -> Pressure {
        (level.abs() * self.tolerance_share).max(self.resolution * 2.0)
    }
}

/// What the analysis has to say, in the order in which it happens.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// The level at rest is known (again).
    Zeroed(Zero),
    /// How the sensor sits was found from the data.
    RigRecognised(Rig),
    /// A stroke was made.
    Stroke(Stroke),
    /// The plateau is known to within the tolerance: cranking may stop.
    Settled(Reading),
    /// A settled reading no longer holds, because the pressure climbs again.
    Withdrawn {
        /// What had been called settled.
        settled: Pressure,
        /// Where the strokes lead to now.
        now: Pressure,
    },
    /// Nobody seems to be cranking, and the reading has not settled.
    Paused {
        /// Strokes so far.
        strokes: u32,
    },
    /// The held pressure was let go.
    Bled {
        /// The level that was held.
        held: Pressure,
    },
    /// Something about the test that the user should know now.
    Flagged(Flag),
    /// A run is complete.
    RunEnded(Box<RunResult>),
}

/// Where the run stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// The sensor has not yet been seen at rest.
    SeekingZero,
    /// Zero is known; waiting for the first stroke.
    Ready,
    /// Strokes are being made, and the reading has not settled.
    Climbing,
    /// Nobody seems to be cranking, and the reading has not settled.
    Paused,
    /// The reading has settled.
    Settled,
}

/// What the strokes so far say about the plateau.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Where the strokes lead to.
    pub plateau: Pressure,
    /// Its standard uncertainty, without the sensor's own accuracy.
    pub standard: Pressure,
    /// What is left to climb after the last stroke.
    pub left: Pressure,
    /// What may at most be left to climb, at the stated error rate.
    pub left_at_most: Pressure,
    /// What [`Self::left`] and the doubt about the plateau must each come below.
    pub tolerance: Pressure,
    /// About how many strokes more will settle it; none where that cannot be told.
    pub strokes_missing: Option<u32>,
}

/// A snapshot for the gauge.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Live {
    /// Where the run stands.
    pub state: State,
    /// Time of the last sample.
    pub time: Option<Time>,
    /// Gauge pressure now.
    pub pressure: Option<Pressure>,
    /// How the sensor sits, where it is known.
    pub rig: Option<Rig>,
    /// Strokes of this run.
    pub strokes: u32,
    /// Last stroke's peak or level.
    pub last: Option<Pressure>,
    /// What the strokes say.
    pub estimate: Option<Estimate>,
    /// Stroke rate over the last strokes.
    pub cadence: Option<Rate>,
}
