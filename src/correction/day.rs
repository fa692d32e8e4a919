//! A day of the calendar, as a check is dated.

use std::str::FromStr;

/// A day. Later days are greater.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Day {
    year: u16,
    month: u8,
    of_month: u8,
}

/// A text that is no day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a day is wanted, such as 2026-11-28")]
pub struct NoDay;

impl Day {
    /// More than a year after the other one.
    pub fn is_a_year_after(self, other: Self) -> bool {
        let year_later = Self {
            year: other.year.saturating_add(1),
            ..other
        };
        self > year_later
    }
}

impl FromStr for Day {
    type Err = NoDay;

    /// Year, month and day as in RFC 3339 (`2026-11-28`), a day of the Gregorian calendar.
    fn from_str(text: &str) -> Result<Self, NoDay> {
        let parts: Vec<&str> = text.split('-').collect();
        let &[year, month, day] = parts.as_slice() else {
            return Err(NoDay);
        };
        let digits = |part: &str, length: usize| {
            let sound = part.len() == length && part.bytes().all(|b| b.is_ascii_digit());
            sound
                .then(|| part.parse::<u16>().ok())
                .flatten()
                .ok_or(NoDay)
        };
        let (year, month, day) = (digits(year, 4)?, digits(month, 2)?, digits(day, 2)?);
        let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
        let length = match month {
            2 => 28 + u16::from(leap),
            4 | 6 | 9 | 11 => 30,
            1..=12 => 31,
            _ => return Err(NoDay),
        };
        if !(1..=length).contains(&day) {
            return Err(NoDay);
        }
        Ok(Self {
            year,
            // Both are below 32.
            month: month as u8,
            of_month: day as u8,
        })
    }
}
