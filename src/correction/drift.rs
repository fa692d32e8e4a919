//! A check beside the one before it: whether the sensor has drifted, and how old the check is.

use super::applied::Correction;
use super::check::{Check, CheckError};
use super::day::Day;
use crate::units::Pressure;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What is known of a sensor by checks: the last, and the one before.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Checked {
    /// The check whose correction counts.
    pub last: Check,
    /// The check before it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<Check>,
}

/// By how much a sensor has moved from one check to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drift {
    /// At this pressure above zero: zero, or the highest that both checks reached.
    pub at: Pressure,
    /// So much more the sensor tells there than at the check before.
    pub by: Pressure,
    /// Expanded uncertainty (k = 2) of that difference, the two checks taken as independent.
    pub expanded: Pressure,
}

impl Drift {
    /// The sensor has moved by more than the two checks leave open.
    pub fn is_clear(&self) -> bool {
        self.by.abs() > self.expanded
    }

    /// Where it shows most: at zero, or at the highest pressure that both checks reached.
    fn between(last: &Correction, before: &Correction, absolute: bool) -> Self {
        let both = |a: Pressure, b: Pressure| Pressure::from_pa(2.0 * libm::hypot(a.pa(), b.pa()));
        // What the same pressure makes the sensor tell, now and then.
        let told = |by: &Correction, pressure: Pressure| (pressure - by.offset) / by.gain;
        let top = last.highest.min(before.highest);
        let span = Self {
            at: top,
            by: top / last.gain - top / before.gain,
            expanded: both(last.standard(top), before.standard(top)),
        };
        let zero = Self {
            at: Pressure::ZERO,
            by: told(last, Pressure::ZERO) - told(before, Pressure::ZERO),
            expanded: both(last.offset_standard, before.offset_standard),
        };
        let clearness = |drift: &Self| drift.by.abs() / drift.expanded;
        if !absolute && clearness(&zero) > clearness(&span) {
            zero
        } else {
            span
        }
    }
}

impl Checked {
    /// A new check, which puts the one so far behind it.
    #[must_use]
    pub fn anew(last: Check, so_far: Option<Self>) -> Self {
        Self {
            last,
            before: so_far.map(|checked| checked.last),
        }
    }

    /// The correction that counts.
    ///
    /// # Errors
    /// The first thing in either check that makes no sense.
    pub fn correction(&self) -> Result<Correction, CheckError> {
        self.drift()?;
        self.last.correction()
    }

    /// The drift since the check before; none if there was none.
    ///
    /// # Errors
    /// The first thing in either check that makes no sense.
    pub fn drift(&self) -> Result<Option<Drift>, CheckError> {
        let Some(before) = &self.before else {
            return Ok(None);
        };
        let last = self.last.correction()?;
        let before = before.correction().map_err(|error| CheckError {
            field: format!("the check before, {}", error.field),
            ..error
        })?;
        Ok(Some(Drift::between(&last, &before, self.last.absolute)))
    }

    /// Whether the check was more than a year old on this day.
    ///
    /// # Errors
    /// When the check's date is no day.
    pub fn is_old(&self, today: Day) -> Result<bool, CheckError> {
        Ok(today.is_a_year_after(self.last.day()?))
    }
}
