//! A field's table: raw numbers to values through given points.

/// Points of a table, the raw numbers rising, the values rising or falling all the way.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::protocol) struct Table {
    points: Vec<[f64; 2]>,
}

/// Where a raw number lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::protocol) enum Found {
    /// Between the first point and the last: its value.
    Value(f64),
    /// Where values are higher than any of the table's.
    Above,
    /// Where they are lower.
    Below,
}

impl Table {
    /// None if there are no points.
    pub(in crate::protocol) fn new(points: &[[f64; 2]]) -> Option<Self> {
        (points.len() >= 2).then(|| Self {
            points: points.to_vec(),
        })
    }

    fn ends(&self) -> ([f64; 2], [f64; 2]) {
        let end = |point: Option<&[f64; 2]>| point.copied().unwrap_or_default();
        (end(self.points.first()), end(self.points.last()))
    }

    /// Values rise with the raw number.
    pub(in crate::protocol) fn rises(&self) -> bool {
        let (first, last) = self.ends();
        last[1] > first[1]
    }

    /// Its highest value, or its lowest.
    pub(in crate::protocol) fn end(&self, upper: bool) -> f64 {
        let (first, last) = self.ends();
        if upper == self.rises() {
            last[1]
        } else {
            first[1]
        }
    }

    /// The largest step in value for a step of one in the raw number.
    pub(in crate::protocol) fn steepest(&self) -> f64 {
        let slopes = self.points.windows(2).map(|pair| slope(pair).abs());
        slopes.fold(0.0, f64::max)
    }

    /// A raw number's value, on the straight line between its neighbours.
    pub(in crate::protocol) fn value(&self, raw: f64) -> Found {
        let (first, last) = self.ends();
        let beyond = |right: bool| {
            if right == self.rises() {
                Found::Above
            } else {
                Found::Below
            }
        };
        if raw < first[0] {
            return beyond(false);
        }
        if raw > last[0] {
            return beyond(true);
        }
        let at = self.points.partition_point(|point| point[0] <= raw);
        match at
            .checked_sub(1)
            .and_then(|from| self.points.get(from..=at))
        {
            Some(pair) => Found::Value(pair[0][1] + (raw - pair[0][0]) * slope(pair)),
            None => Found::Value(last[1]),
        }
    }

    /// The raw number of a value; beyond the table, that of the nearest end.
    pub(in crate::protocol) fn raw(&self, value: f64) -> f64 {
        let (first, last) = self.ends();
        let rises = self.rises();
        let before = |point: &[f64; 2]| (point[1] <= value) == rises || point[1] == value;
        let at = self.points.partition_point(before);
        match at
            .checked_sub(1)
            .and_then(|from| self.points.get(from..=at))
        {
            Some(pair) => pair[0][0] + (value - pair[0][1]) / slope(pair),
            None if at == 0 => first[0],
            None => last[0],
        }
    }

    /// Whether a value lies beyond its ends, and on which side.
    pub(in crate::protocol) fn beyond(&self, value: f64) -> Option<bool> {
        if value > self.end(true) {
            Some(true)
        } else if value < self.end(false) {
            Some(false)
        } else {
            None
        }
    }
}

fn slope(pair: &[[f64; 2]]) -> f64 {
    (pair[1][1] - pair[0][1]) / (pair[1][0] - pair[0][0])
}
