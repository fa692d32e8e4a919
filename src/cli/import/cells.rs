//! A cell's number or time.

use super::found::Decimal;
use jiff::civil;

/// What the numbers in the time column count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum TimeUnit {
    S,
    Ms,
    Us,
    Min,
}

impl TimeUnit {
    const fn us(self) -> f64 {
        match self {
            Self::S => 1e6,
            Self::Ms => 1e3,
            Self::Us => 1.0,
            Self::Min => 60e6,
        }
    }
}

/// A moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Moment {
    /// In microseconds, from any beginning.
    pub us: i64,
    /// The moment in the world, if the cell says so.
    pub at: Option<jiff::Timestamp>,
}

/// Longest time from the first row to the last, in microseconds: a year, and exact as `f64`.
const LONGEST_US: f64 = 366.0 * 86_400e6;

/// A number as it stands in a cell, with a point; none if it is not one.
pub(super) fn number(cell: &str, decimal: Decimal) -> Option<String> {
    let text = match decimal {
        Decimal::Point => cell.to_owned(),
        Decimal::Comma if cell.contains('.') => return None,
        Decimal::Comma => cell.replace(',', "."),
    };
    let plain = |byte: u8| byte.is_ascii_digit() || b"+-.eE".contains(&byte);
    let is_number = text.len() <= 64
        && text.bytes().all(plain)
        && text.parse::<f64>().is_ok_and(f64::is_finite);
    is_number.then_some(text)
}

/// A time: a number, a time of day, a date with time (with or without a zone).
pub(super) fn moment(cell: &str, decimal: Decimal, unit: TimeUnit) -> Option<Moment> {
    if let Some(text) = number(cell, decimal) {
        let us = text.parse::<f64>().ok()? * unit.us();
        let in_bounds = us.abs() <= LONGEST_US * 100.0;
        return in_bounds.then(|| Moment {
            us: us.round() as i64,
            at: None,
        });
    }
    let cell = match decimal {
        Decimal::Comma => cell.replace(',', "."),
        Decimal::Point => cell.to_owned(),
    };
    if let Ok(at) = cell.parse::<jiff::Timestamp>() {
        return Some(Moment {
            us: at.as_microsecond(),
            at: Some(at),
        });
    }
    if let Ok(time) = cell.parse::<civil::DateTime>() {
        // Which zone it is meant in is not known, so it does not say when in the world it was.
        let since = time.duration_since(civil::DateTime::constant(1970, 1, 1, 0, 0, 0, 0));
        return Some(Moment {
            us: i64::try_from(since.as_micros()).ok()?,
            at: None,
        });
    }
    let time: civil::Time = cell.parse().ok()?;
    let since = time.duration_since(civil::Time::midnight());
    Some(Moment {
        us: i64::try_from(since.as_micros()).ok()?,
        at: None,
    })
}
