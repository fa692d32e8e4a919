//! What is known about sensor and surroundings, and the sensor's zero.

use crate::units::{Pressure, Temperature};

/// The zero is read for so long (s) from when the test begins.
const ZERO_S: f64 = 2.0;
/// Fewest samples of it.
const FEWEST: f64 = 3.0;

/// What is known about sensor and surroundings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// The sensor counts from vacuum.
    pub absolute: bool,
    /// Ambient pressure, absolute.
    pub ambient_absolute: Pressure,
    /// Air temperature.
    pub air: Temperature,
    /// Smallest step of the sensor.
    pub resolution: Pressure,
    /// Standard uncertainty of its accuracy.
    pub accuracy_standard: Pressure,
}

/// What the sensor tells before the air comes.
#[derive(Clone, Debug, Default)]
pub(super) struct Zero {
    sum: f64,
    n: f64,
    /// Time of the first sample (s).
    began: Option<f64>,
}

impl Zero {
    /// Takes a sample (s, Pa); nothing is asked for yet where that is so. Whoever says that the supply
    /// is on has turned it up before: only the beginning is zero.
    pub(super) fn push(&mut self, time: f64, raw: f64, nothing_asked: bool) {
        let began = *self.began.get_or_insert(time);
        if nothing_asked && time - began < ZERO_S {
            self.sum += raw;
            self.n += 1.0;
        }
    }

    /// What it told, or what it should (Pa).
    pub(super) fn level(&self, settings: &Settings) -> f64 {
        let rest = if settings.absolute {
            settings.ambient_absolute.pa()
        } else {
            0.0
        };
        // A pressure that was let in already is no zero.
        let near = (20.0 * settings.resolution.pa())
            .max(4.0 * settings.accuracy_standard.pa())
            .max(3e3);
        let mean = self.sum / self.n;
        if self.n >= FEWEST && (mean - rest).abs() < near {
            mean
        } else {
            rest
        }
    }
}
