//! What the findings say of a sensor that is corrected.

use crate::correction::{CheckError, Checked, Day, Drift, Point};
use crate::units::Pressure;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The correction of a sensor: every pressure is `gain × told + offset` (pascal), told being what
/// the sensor said.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CorrectionFacts {
    /// Day of the check (UTC).
    pub date: String,
    /// The gauge that it was held against, in the user's words.
    pub reference: String,
    /// The largest error that this gauge may have.
    #[serde(rename = "reference_accuracy_pa")]
    pub reference_accuracy: Pressure,
    /// What gauge and sensor told.
    pub points: Vec<Point>,
    /// Factor.
    pub gain: f64,
    /// Added after the factor.
    #[serde(rename = "offset_pa")]
    pub offset: Pressure,
    /// Standard uncertainty of the factor.
    pub gain_standard: f64,
    /// Standard uncertainty of what is added.
    #[serde(rename = "offset_standard_pa")]
    pub offset_standard: Pressure,
    /// Standard uncertainty due to points off the straight line.
    #[serde(rename = "bend_standard_pa")]
    pub bend_standard: Pressure,
    /// The highest pressure that was checked.
    #[serde(rename = "highest_pa")]
    pub highest: Pressure,
    /// Expanded uncertainty (k = 2) of the correction there.
    #[serde(rename = "expanded_pa")]
    pub expanded: Pressure,
    /// Above this level the sensor's stated accuracy counts as well; 0: everywhere.
    #[serde(rename = "reach_pa")]
    pub reach: Pressure,
    /// What the reading of each run was before it was corrected, in the runs' order; none where
    /// there is no reading.
    #[serde(default, rename = "before_pa", skip_serializing_if = "Vec::is_empty")]
    pub before: Vec<Option<Pressure>>,
    /// When recording began the check was more than a year old.
    pub old: bool,
    /// The check is dated after the day on which recording began.
    pub dated_after: bool,
    /// By how much the sensor had moved since the check before, if there was one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drift: Option<DriftFacts>,
}

/// By how much a sensor had moved from one check to the next.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DriftFacts {
    /// Day of the check before.
    pub since: String,
    /// At this pressure it shows most.
    #[serde(rename = "at_pa")]
    pub at: Pressure,
    /// So much more it tells there.
    #[serde(rename = "by_pa")]
    pub by: Pressure,
    /// Expanded uncertainty of that.
    #[serde(rename = "expanded_pa")]
    pub expanded: Pressure,
    /// It is more than that.
    pub clear: bool,
}

impl CorrectionFacts {
    /// Of a sensor with these checks, on a recording that began then (RFC 3339).
    ///
    /// # Errors
    /// The first thing in a check that makes no sense.
    pub fn new(checked: &Checked, started: &str) -> Result<Self, CheckError> {
        let last = &checked.last;
        let by = checked.correction()?;
        let began = day(started);
        let old = began.map(|began| checked.is_old(began)).transpose()?;
        let checked_on = last.day()?;
        let since = checked.before.as_ref().map(|before| before.date.clone());
        let drift = checked.drift()?.zip(since);
        Ok(Self {
            date: last.date.clone(),
            reference: last.reference.clone(),
            reference_accuracy: last.accuracy,
            points: last.points.clone(),
            gain: by.gain,
            offset: by.offset,
            gain_standard: by.gain_standard,
            offset_standard: by.offset_standard,
            bend_standard: by.bend_standard,
            highest: by.highest,
            expanded: by.expanded(by.highest),
            reach: by.reach(),
            before: Vec::new(),
            old: old.unwrap_or(false),
            dated_after: began.is_some_and(|began| checked_on > began),
            drift: drift.map(|(drift, since)| DriftFacts::new(&drift, since)),
        })
    }

    /// With what these readings, one a run, were before they were corrected.
    pub(super) fn with_readings(&self, readings: impl Iterator<Item = Option<Pressure>>) -> Self {
        let before = readings.map(|reading| Some(reading? / self.gain));
        Self {
            before: before.collect(),
            ..self.clone()
        }
    }
}

impl DriftFacts {
    fn new(drift: &Drift, since: String) -> Self {
        Self {
            since,
            at: drift.at,
            by: drift.by,
            expanded: drift.expanded,
            clear: drift.is_clear(),
        }
    }
}

/// The day of a moment that is written as RFC 3339 says, in UTC.
fn day(moment: &str) -> Option<Day> {
    moment.get(..10)?.parse().ok()
}
