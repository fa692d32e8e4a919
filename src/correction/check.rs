//! A check: what sensor and gauge told, and the correction that follows.

use super::applied::Correction;
use super::day::Day;
use super::line::{Line, Observation, fit};
use crate::units::Pressure;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Most points of a check, zero among them.
pub const MOST_POINTS: usize = 6;
/// Most characters of the name of a reference.
const REFERENCE: usize = 120;
/// Pressures beyond this are no pressures, in pascal: a thousand bar.
const PRESSURE_PA: f64 = 1e8;
/// A gain outside of this is no error of a sensor, but another unit or another range.
const GAIN: (f64, f64) = (0.5, 2.0);
/// A check that leaves more than this share of its highest pressure open is of no use: cylinders are
/// compared within a tenth. Our choice.
const MOST_OPEN: f64 = 0.2;
/// Least variance of a point, in pascal squared: one pascal, below any sensor's resolution here.
const LEAST_VARIANCE: f64 = 1.0;

/// A sensor held against a gauge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Check {
    /// The day (UTC), such as 2026-11-28.
    pub date: String,
    /// The gauge that was trusted, in the user's words.
    pub reference: String,
    /// The largest error that the gauge may have, reading it included.
    #[serde(rename = "reference_accuracy_pa")]
    pub accuracy: Pressure,
    /// The sensor tells absolute pressure: of its zero nothing can be said.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub absolute: bool,
    /// Zero first, then upwards; 2 to 6.
    #[serde(rename = "point")]
    pub points: Vec<Point>,
}

/// What gauge and sensor told of one pressure that stood still.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Point {
    /// The gauge; 0 with the sensor open to the air.
    #[serde(rename = "gauge_pa")]
    pub gauge: Pressure,
    /// The sensor's mean.
    #[serde(rename = "told_pa")]
    pub told: Pressure,
    /// Standard uncertainty of the sensor's mean: noise, resolution, how far it moved meanwhile.
    #[serde(rename = "told_standard_pa")]
    pub standard: Pressure,
}

/// What is wrong with a check.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{field}: {what}")]
pub struct CheckError {
    /// The entry.
    pub field: String,
    /// What is wrong with it.
    pub what: String,
}

fn wrong(field: impl Into<String>, what: impl Into<String>) -> CheckError {
    CheckError {
        field: field.into(),
        what: what.into(),
    }
}

impl Check {
    /// The day of the check.
    ///
    /// # Errors
    /// When it is no day.
    pub fn day(&self) -> Result<Day, CheckError> {
        let day: Result<Day, _> = self.date.parse();
        day.map_err(|error| wrong("date", error.to_string()))
    }

    /// The correction that follows from the points.
    ///
    /// # Errors
    /// The first thing that makes no sense.
    pub fn correction(&self) -> Result<Correction, CheckError> {
        self.day()?;
        self.is_named()?;
        self.points_make_sense()?;
        let observations = self.observations();
        let line = fit(&observations)
            .ok_or_else(|| wrong("point", "no straight line goes through the points"))?;
        let correction = self.applied(&line, &observations);
        if !(GAIN.0..=GAIN.1).contains(&correction.gain) {
            let what = format!(
                "the sensor would have to be corrected by the factor {:.3}: that is no error, but \
                 another unit or another range; its protocol file, or the gauge's unit, is wrong",
                correction.gain
            );
            return Err(wrong("point", what));
        }
        if !self.absolute && correction.offset.abs() >= correction.highest {
            let what = "the sensor's zero is off by more than the highest pressure of the check";
            return Err(wrong("point", what));
        }
        let open = correction.expanded(correction.highest) / correction.highest;
        if open > MOST_OPEN {
            let what = format!(
                "the check leaves ±{:.0} % open, more than any use of it allows: the gauge is too \
                 coarse for pressures this low, or a point was read wrongly",
                100.0 * open
            );
            return Err(wrong("point", what));
        }
        Ok(correction)
    }

    fn is_named(&self) -> Result<(), CheckError> {
        let name = self.reference.as_str();
        let length = name.chars().count();
        if name.trim().is_empty() || length > REFERENCE || name.contains(char::is_control) {
            let what = format!("a text of one line and 1 to {REFERENCE} characters is wanted");
            return Err(wrong("reference", what));
        }
        let pa = self.accuracy.pa();
        if !(pa > 0.0 && pa <= PRESSURE_PA) {
            let what = "the largest error that the gauge may have is wanted, more than 0; no gauge \
                        is without error";
            return Err(wrong("reference_accuracy_pa", what));
        }
        Ok(())
    }

    fn points_make_sense(&self) -> Result<(), CheckError> {
        let count = self.points.len();
        if !(2..=MOST_POINTS).contains(&count) {
            let what = format!("zero and 1 to {} pressures are wanted", MOST_POINTS - 1);
            return Err(wrong("point", what));
        }
        for (number, point) in self.points.iter().enumerate() {
            let place = |entry: &str| format!("point {}, {entry}", number + 1);
            let sane = |pressure: Pressure| pressure.pa().abs() <= PRESSURE_PA;
            for (entry, pressure) in [("gauge_pa", point.gauge), ("told_pa", point.told)] {
                if !sane(pressure) {
                    return Err(wrong(place(entry), "this is no pressure of a gauge"));
                }
            }
            if !(point.standard.pa() >= 0.0 && sane(point.standard)) {
                return Err(wrong(place("told_standard_pa"), "0 or more is wanted"));
            }
            if number == 0 && point.gauge != Pressure::ZERO {
                return Err(wrong(place("gauge_pa"), "the first point is zero"));
            }
        }
        let pairs = self.points.iter().zip(self.points.iter().skip(1));
        for (number, (lower, upper)) in pairs.enumerate() {
            let place = |entry: &str| format!("point {}, {entry}", number + 2);
            if upper.gauge <= lower.gauge {
                return Err(wrong(
                    place("gauge_pa"),
                    "each point lies above the one before",
                ));
            }
            if upper.told <= lower.told {
                let what = "the sensor told no more than at the lower pressure before";
                return Err(wrong(place("told_pa"), what));
            }
        }
        Ok(())
    }

    /// Standard uncertainty of the gauge at a pressure: its error lies anywhere within ± the bound,
    /// a/√3 (GUM 4.3.7). That zero is zero needs no gauge.
    fn gauge_standard(&self, point: &Point) -> f64 {
        if point.gauge == Pressure::ZERO {
            0.0
        } else {
            self.accuracy.pa() / libm::sqrt(3.0)
        }
    }

    /// What is taken for zero: of an absolute sensor, whatever it told in the open.
    fn base(&self) -> f64 {
        match self.points.first() {
            Some(zero) if self.absolute => zero.told.pa(),
            _ => 0.0,
        }
    }

    /// The correction needed at each point (gauge less sensor, as in GUM H.3.1) against what the
    /// sensor told.
    fn observations(&self) -> Vec<Observation> {
        let base = self.base();
        let highest = self.points.last().map_or(0.0, |point| point.gauge.pa());
        let one = |point: &Point| {
            let told = point.told.pa() - base;
            let own = point.standard.pa();
            // An error of the gauge that is the same everywhere would tilt the line: low pressures
            // count less, by the square of what it is of them.
            let gauge = match self.gauge_standard(point) {
                0.0 => 0.0,
                gauge => gauge * highest / point.gauge.pa(),
            };
            Observation {
                x: told,
                y: point.gauge.pa() - told,
                variance: (own * own + gauge * gauge).max(LEAST_VARIANCE),
            }
        };
        self.points.iter().map(one).collect()
    }

    /// The line as a correction, with its uncertainty. The gauge's error is taken to be as
    /// unfavourable as it can be, the same way at every point: its parts are added as they are, not
    /// as squares (GUM 5.2.2, note 1). The sensor's own parts are independent (GUM 5.1.2), and
    /// wider where the points scatter more than they should.
    fn applied(&self, line: &Line, observations: &[Observation]) -> Correction {
        let wider = line.scatter.filter(|scatter| *scatter > 1.0);
        let standard = |of: &dyn Fn(&(f64, f64)) -> f64| {
            let (mut gauge, mut own) = (0.0, 0.0);
            let parts = self.points.iter().zip(observations);
            for ((point, observed), moves) in parts.zip(&line.sensitivities) {
                let by = of(moves);
                gauge += by.abs() * self.gauge_standard(point);
                let variance = match wider {
                    Some(scatter) => observed.variance * scatter,
                    None => point.standard.pa() * point.standard.pa(),
                };
                own += by * by * variance;
            }
            (gauge * gauge + own).sqrt()
        };
        let gain = 1.0 + line.slope;
        let highest = self
            .points
            .last()
            .map_or(Pressure::ZERO, |point| point.gauge);
        Correction {
            gain,
            // An absolute sensor keeps what it told in the open.
            offset: Pressure::from_pa(line.intercept - line.slope * self.base()),
            gain_standard: standard(&|moves| moves.1),
            offset_standard: Pressure::from_pa(standard(&|moves| moves.0)),
            bend_standard: Pressure::from_pa(self.bend(line, observations)),
            highest,
            straight: self.points.len() > 2,
        }
    }

    /// Standard uncertainty due to points off the line: the furthest off, less what the sensor's
    /// own uncertainty there explains. What the gauge may have to do with it is not known, and so no
    /// excuse. The mean of all would hide a bend that shows at one point only.
    fn bend(&self, line: &Line, observations: &[Observation]) -> f64 {
        if self.points.len() < 3 {
            return 0.0;
        }
        let beyond = |(point, o): (&Point, &Observation)| {
            let (off, own) = (o.y - line.at(o.x), point.standard.pa());
            (off * off - own * own).max(0.0).sqrt()
        };
        let points = self.points.iter().zip(observations);
        points.map(beyond).fold(0.0, f64::max)
    }
}
