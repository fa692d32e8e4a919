//! What goes into the analysis, and what comes out while it runs.

use super::build_up::Turned;
use super::results::{Call, Flag, Reading, Rig, RunResult, Stroke, Zero};
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
    /// How the engine is turned, where the card says so; found from the strokes otherwise.
    pub turned: Option<Turned>,
    /// The sensor tells absolute pressure.
    pub absolute: bool,
    /// Absolute pressure of the air around. Used to shape the top of a stroke and as the zero of
    /// an absolute sensor that was never seen at rest.
    pub ambient: Pressure,
    /// By what share of itself the needle may still rise to count as settled (0.02 = 2 %). Twice
    /// the resolution counts instead where that is more.
    pub tolerance_share: f64,
    /// The smallest difference that the sensor tells.
    pub resolution: Pressure,
    /// Standard uncertainty of the sensor's level, common to all runs made with it.
    pub accuracy_standard: Pressure,
    /// The sensor's level was corrected: how well it is known then.
    pub corrected: Option<Corrected>,
    /// Upper end of the sensor's range, as it tells it.
    pub range_max: Option<Pressure>,
    /// Time between samples where it is known; measured otherwise.
    pub sample_period: Option<Time>,
    /// Only the strokes are wanted: no build-up, no decision and no reading.
    pub strokes_only: bool,
}

/// How well a corrected level is known; the same for all runs made with the sensor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corrected {
    /// Standard uncertainty at every level.
    pub standard: Pressure,
    /// Standard uncertainty as a share of the level.
    pub share: f64,
    /// Above this level the sensor's own accuracy counts as well.
    pub reach: Pressure,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            rig: None,
            turned: None,
            absolute: false,
            ambient: Pressure::ATMOSPHERE,
            tolerance_share: 0.02,
            resolution: Pressure::ZERO,
            accuracy_standard: Pressure::ZERO,
            corrected: None,
            range_max: None,
            sample_period: None,
            strokes_only: false,
        }
    }
}

impl Settings {
    /// Standard uncertainties of a level, common to all runs made with the sensor: what is due to
    /// its accuracy, and what is due to its correction.
    pub(super) fn level_standard(&self, level: Pressure) -> (Pressure, Pressure) {
        let Some(corrected) = &self.corrected else {
            return (self.accuracy_standard, Pressure::ZERO);
        };
        let grows = corrected.share * level.pa();
        let correction = Pressure::from_pa(libm::hypot(corrected.standard.pa(), grows));
        let accuracy = if level > corrected.reach {
            self.accuracy_standard
        } else {
            Pressure::ZERO
        };
        (accuracy, correction)
    }

    /// By how much a needle at `level` may still rise to count as settled.
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
    /// One more stroke, kick or pull is over, or was due and lifted nothing.
    Counted(Count),
    /// The needle has stopped climbing: stop cranking.
    Settled {
        /// What it reads.
        reading: Reading,
        /// What the call stands on.
        call: Call,
    },
    /// A settled reading no longer holds, because the pressure climbs again.
    Withdrawn {
        /// What had been called settled.
        settled: Pressure,
        /// The needle now.
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

/// How far a run has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Count {
    /// Strokes, kicks or pulls so far, with those that were due and lifted nothing.
    pub made: u32,
    /// How many of the last ones were only due.
    pub unseen: u32,
    /// What is counted.
    pub turned: Turned,
    /// How many more that lift nothing settle the reading; none where it must be seen to climb
    /// first.
    pub to_go: Option<u32>,
    /// The needle: the highest level held, or what the better strokes keep reaching.
    pub needle: Pressure,
    /// Where it is heading.
    pub heading: Pressure,
    /// By how much it may still rise to count as settled.
    pub tolerance: Pressure,
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
    /// The needle: what a person would read off a gauge.
    pub needle: Option<Pressure>,
    /// How far the run has come, from the first stroke, kick or pull that is over.
    pub count: Option<Count>,
    /// Stroke rate over the last strokes.
    pub cadence: Option<Rate>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pa(value: f64) -> Pressure {
        Pressure::from_pa(value)
    }

    /// A share of the level, and twice the resolution at least; either way of zero.
    #[test]
    fn the_tolerance_is_a_share_and_two_steps_at_least() {
        let settings = Settings {
            tolerance_share: 0.02,
            resolution: pa(5000.0),
            ..Settings::default()
        };
        for (level, tolerance) in [
            (1e6, 2e4),
            (-1e6, 2e4),
            (5.1e5, 1.02e4),
            (4.9e5, 1e4),
            (0.0, 1e4),
        ] {
            assert!(
                (settings.tolerance(pa(level)).pa() - tolerance).abs() < 1e-9,
                "{level}"
            );
        }
    }

    /// A sensor that was checked against a gauge is known by its correction, whose parts add as squares;
    /// above the gauge's reach its own accuracy counts as well.
    #[test]
    fn a_corrected_level_is_known_by_its_correction() {
        let plain = Settings {
            accuracy_standard: pa(9000.0),
            ..Settings::default()
        };
        assert_eq!(plain.level_standard(pa(1e6)), (pa(9000.0), Pressure::ZERO));
        let checked = Settings {
            corrected: Some(Corrected {
                standard: pa(3000.0),
                share: 0.004,
                reach: pa(1e6),
            }),
            ..plain
        };
        let within = checked.level_standard(pa(1e6));
        assert_eq!(within.0, Pressure::ZERO);
        assert!(
            (within.1.pa() - 5000.0).abs() < 1e-9,
            "3 and 4 kPa: {within:?}"
        );
        let beyond = checked.level_standard(pa(1.001e6));
        assert_eq!(beyond.0, pa(9000.0));
        assert!(beyond.1 > within.1);
    }
}
