//! True compression strokes, found in the noise-free pressure of the cylinder.

use super::machine::Moment;
use crate::units::{Pressure, Rate, Time};
use serde::{Deserialize, Serialize};

/// A pressure in the cylinder below this (gauge, Pa) is no compression.
const LEAST: f64 = 8e3;

/// A compression stroke as it was.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TrueStroke {
    /// When the cylinder's pressure was highest, on the simulation's clock.
    #[serde(rename = "time_s")]
    pub time: Time,
    /// Highest gauge pressure in the cylinder.
    #[serde(rename = "cylinder_peak_pa")]
    pub cylinder_peak: Pressure,
    /// Highest gauge pressure at the sensor, from this stroke to the next.
    #[serde(rename = "shown_peak_pa")]
    pub shown_peak: Pressure,
    /// Gauge pressure at the sensor right before the next stroke lifts it (holding rig: the
    /// level held).
    #[serde(rename = "held_pa")]
    pub held: Pressure,
    /// Crank speed at the peak.
    #[serde(rename = "crank_hz")]
    pub crank: Rate,
    /// The piston got over top dead centre; otherwise it rocked back.
    pub complete: bool,
}

/// Finds strokes as moments come in.
#[derive(Clone, Debug)]
pub(super) struct StrokeFinder {
    ambient: f64,
    cycle: f64,
    rising: Option<Rising>,
    /// Lowest gauge pressure in the cylinder since the last stroke.
    trough: f64,
    strokes: Vec<TrueStroke>,
    last_shown: f64,
}

#[derive(Clone, Copy, Debug)]
struct Rising {
    time: f64,
    angle: f64,
    peak: f64,
    speed: f64,
    shown: f64,
}

impl StrokeFinder {
    /// `ambient` in Pa, `cycle` in rad of crank.
    pub(super) fn new(ambient: f64, cycle: f64) -> Self {
        Self {
            ambient,
            cycle,
            rising: None,
            trough: 0.0,
            strokes: Vec::new(),
            last_shown: 0.0,
        }
    }

    /// Takes the next moment.
    pub(super) fn feed(&mut self, moment: &Moment) {
        let cylinder = moment.cylinder - self.ambient;
        let shown = moment.tester - self.ambient;
        if let Some(rising) = &mut self.rising {
            rising.shown = rising.shown.max(shown);
            if cylinder > rising.peak {
                rising.peak = cylinder;
                rising.time = moment.time;
                rising.angle = moment.angle;
                rising.speed = moment.speed;
            } else if cylinder < 0.5 * rising.peak {
                self.finish(moment, shown);
            }
        } else if cylinder > self.trough + LEAST {
            if let Some(last) = self.strokes.last_mut() {
                last.held = Pressure::from_pa(self.last_shown);
            }
            self.rising = Some(Rising {
                time: moment.time,
                angle: moment.angle,
                peak: cylinder,
                speed: moment.speed,
                shown,
            });
        } else if let Some(last) = self.strokes.last_mut() {
            last.held = Pressure::from_pa(shown);
        }
        self.trough = self.trough.clamp(0.0, cylinder.max(0.0));
        self.last_shown = shown;
    }

    fn finish(&mut self, moment: &Moment, shown: f64) {
        let Some(rising) = self.rising.take() else {
            return;
        };
        self.trough = moment.cylinder - self.ambient;
        let turns = |angle: f64| (angle / self.cycle + 0.25).floor();
        self.strokes.push(TrueStroke {
            time: Time::from_s(rising.time),
            cylinder_peak: Pressure::from_pa(rising.peak),
            shown_peak: Pressure::from_pa(rising.shown),
            held: Pressure::from_pa(shown),
            crank: Rate::from_hz(rising.speed.abs() / std::f64::consts::TAU),
            complete: turns(moment.angle) >= (rising.angle / self.cycle).round()
                && moment.speed > 0.0,
        });
    }

    /// The strokes so far.
    pub(super) fn strokes(&self) -> &[TrueStroke] {
        &self.strokes
    }

    /// The strokes, when all is done.
    pub(super) fn into_strokes(self) -> Vec<TrueStroke> {
        self.strokes
    }
}
