//! Pressure against time for the report's plots: thinned, but without losing a peak.

use crate::units::{Pressure, Time};
use serde::{Deserialize, Serialize};

/// Pressure against time of one run, thinned for drawing. Not part of the findings: no number in
/// the report rests on it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Trace {
    /// Index of the run in the findings.
    pub run: usize,
    /// Time on the stream's clock and pressure after the zero was subtracted, in order of time.
    pub points: Vec<(Time, Pressure)>,
}

/// Thins a stream of samples in bounded memory. Samples are gathered in groups of equal number,
/// and of each group the lowest and the highest are kept; once there are [`Thinner::GROUPS`]
/// groups, neighbours are joined and the groups become twice as large.
#[derive(Clone, Debug)]
pub struct Thinner {
    /// Samples a group.
    size: u64,
    /// Samples in the last group.
    filled: u64,
    groups: Vec<Group>,
}

#[derive(Clone, Copy, Debug)]
struct Group {
    low: (Time, Pressure),
    high: (Time, Pressure),
}

impl Default for Thinner {
    fn default() -> Self {
        Self {
            size: 1,
            filled: 0,
            groups: Vec::new(),
        }
    }
}

impl Thinner {
    /// The most groups that are kept; a trace has at most twice as many points.
    pub const GROUPS: usize = 2048;
    /// As many groups are kept of a trace that is one of very many: still more than is drawn then.
    pub const FEW_GROUPS: usize = 512;

    /// Joins groups until there are few.
    pub fn coarsen(&mut self) {
        while self.groups.len() > Self::FEW_GROUPS {
            self.join_neighbours();
        }
    }

    /// Takes the next sample. One that is not a finite number is left out.
    pub fn push(&mut self, time: Time, pressure: Pressure) {
        if !(time.is_finite() && pressure.is_finite()) {
            return;
        }
        let sample = (time, pressure);
        match self.groups.last_mut() {
            Some(group) if self.filled < self.size => group.include(sample),
            _ => {
                if self.groups.len() == Self::GROUPS {
                    self.join_neighbours();
                }
                self.groups.push(Group {
                    low: sample,
                    high: sample,
                });
                self.filled = 0;
            }
        }
        self.filled += 1;
    }

    /// The thinned points, in order of time.
    pub fn points(&self) -> Vec<(Time, Pressure)> {
        let mut points: Vec<(Time, Pressure)> = Vec::with_capacity(2 * self.groups.len());
        for group in &self.groups {
            let (first, second) = if group.low.0 <= group.high.0 {
                (group.low, group.high)
            } else {
                (group.high, group.low)
            };
            points.push(first);
            if second != first {
                points.push(second);
            }
        }
        // Traces stay for as long as the recording is in hand.
        points.shrink_to_fit();
        points
    }

    fn join_neighbours(&mut self) {
        self.groups = self
            .groups
            .chunks(2)
            .filter_map(|pair| {
                let (mut joined, rest) = pair.split_first().map(|(a, b)| (*a, b))?;
                for other in rest {
                    joined.include(other.low);
                    joined.include(other.high);
                }
                Some(joined)
            })
            .collect();
        self.size *= 2;
    }
}

impl Group {
    fn include(&mut self, sample: (Time, Pressure)) {
        if sample.1 < self.low.1 {
            self.low = sample;
        }
        if sample.1 > self.high.1 {
            self.high = sample;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_every_peak_in_bounded_memory() {
        let mut thinner = Thinner::default();
        let spike = |n: u32| n % 10_000 == 7_777;
        for n in 0..200_000_u32 {
            let pressure = if spike(n) { f64::from(n) } else { -1.0 };
            thinner.push(Time::from_s(f64::from(n)), Pressure::from_pa(pressure));
        }
        let points = thinner.points();
        assert!(points.len() <= 2 * Thinner::GROUPS);
        assert!(points.is_sorted_by(|a, b| a.0 < b.0));
        for n in (0..200_000).filter(|n| spike(*n)) {
            let peak = (Time::from_s(f64::from(n)), Pressure::from_pa(f64::from(n)));
            assert!(points.contains(&peak), "peak {n} is lost");
        }
    }

    #[test]
    fn a_coarse_trace_keeps_every_peak_too() {
        let mut thinner = Thinner::default();
        let pressure = |n: u32| f64::from(n * 7919 % 1000);
        for n in 0..100_000_u32 {
            thinner.push(Time::from_s(f64::from(n)), Pressure::from_pa(pressure(n)));
        }
        let ends = |points: &[(Time, Pressure)]| {
            let by_pressure =
                |a: &&(Time, Pressure), b: &&(Time, Pressure)| a.1.pa().total_cmp(&b.1.pa());
            (
                *points.iter().min_by(by_pressure).unwrap(),
                *points.iter().max_by(by_pressure).unwrap(),
            )
        };
        let before = ends(&thinner.points());
        thinner.coarsen();
        let points = thinner.points();
        assert!(points.len() <= 2 * Thinner::FEW_GROUPS && points.len() > Thinner::FEW_GROUPS);
        assert!(points.is_sorted_by(|a, b| a.0 < b.0));
        assert_eq!(
            (before.0.1, before.1.1),
            (ends(&points).0.1, ends(&points).1.1)
        );
    }

    #[test]
    fn a_short_run_is_kept_whole() {
        let mut thinner = Thinner::default();
        for n in 0..5 {
            thinner.push(Time::from_s(f64::from(n)), Pressure::from_pa(3.0));
        }
        thinner.push(Time::from_s(5.0), Pressure::from_pa(f64::NAN));
        assert_eq!(thinner.points().len(), 5);
    }
}
