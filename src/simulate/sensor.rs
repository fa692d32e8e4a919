//! The sensor: lag, sampling by its own clock, errors, noise, resolution, range.

use super::random::Draws;
use super::spec::Sensor;
use crate::units::{Pressure, Time};

/// One sample as the sensor gives it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// When it was taken, on the simulation's clock.
    pub time: Time,
    /// When it was taken, on the sensor's own clock.
    pub sensor_time: Time,
    /// Gauge pressure with all the sensor's errors, brought into its range.
    pub pressure: Pressure,
    /// The pressure was beyond the sensor's range.
    pub out_of_range: bool,
    /// The sample was lost on its way through the air.
    pub lost: bool,
}

/// Turns the pressure at the sensor into samples.
#[derive(Clone, Debug)]
pub(super) struct Sampler {
    spec: Sensor,
    draws: Draws,
    /// Number of the next sample.
    next: u64,
    /// Time between samples on the simulation's clock.
    every: f64,
    lagged: Option<Point>,
    input: f64,
    before: Option<Point>,
    slow: f64,
}

#[derive(Clone, Copy, Debug)]
struct Point {
    time: f64,
    value: f64,
}

impl Sampler {
    pub(super) fn new(spec: Sensor, mut draws: Draws) -> Self {
        let slow = spec.slow_noise_kpa * 1e3 * draws.normal();
        Self {
            spec,
            next: 0,
            // A clock that runs fast samples early.
            every: 1.0 / (spec.rate_hz * (1.0 + spec.clock_ppm * 1e-6)),
            draws,
            lagged: None,
            input: 0.0,
            before: None,
            slow,
        }
    }

    /// Takes the gauge pressure (Pa) at a later time (s), and hands out the samples up to it.
    pub(super) fn feed(&mut self, time: f64, gauge: f64, out: &mut Vec<Sample>) {
        let point = self.lag(time, gauge);
        if let Some(last) = self.lagged {
            loop {
                let due = self.next as f64 * self.every;
                if due > time {
                    break;
                }
                let value = self.between(last, point, due);
                out.push(self.sample(due, value));
                self.next += 1;
            }
        }
        self.before = self.lagged;
        self.lagged = Some(point);
        self.input = gauge;
    }

    /// The first-order lag, exact for an input that moves in a straight line.
    fn lag(&self, time: f64, gauge: f64) -> Point {
        let tau = self.spec.lag_ms * 1e-3;
        let value = match self.lagged {
            Some(last) if tau > 0.0 && time > last.time => {
                let step = time - last.time;
                let slope = (gauge - self.input) / step;
                let fade = libm::exp(-step / tau);
                gauge - slope * tau + (last.value - self.input + slope * tau) * fade
            }
            _ => gauge,
        };
        Point { time, value }
    }

    /// The parabola through the last three points where they are evenly spaced, else a line.
    fn between(&self, last: Point, now: Point, time: f64) -> f64 {
        let step = now.time - last.time;
        let f = (time - last.time) / step;
        match self.before {
            Some(before) if (last.time - before.time - step).abs() < 1e-9 => {
                let slope = (now.value - before.value) / 2.0;
                let bend = f64::midpoint(now.value, before.value) - last.value;
                last.value + f * (slope + f * bend)
            }
            _ => last.value + f * (now.value - last.value),
        }
    }

    fn sample(&mut self, time: f64, gauge: f64) -> Sample {
        let spec = self.spec;
        let warm = spec.warm_up_kpa * (1.0 - libm::exp(-time / spec.warm_up_s));
        let value = gauge * (1.0 + spec.span_error)
            + (spec.offset_kpa + warm) * 1e3
            + self.slow_noise()
            + spec.noise_kpa * 1e3 * self.draws.normal();
        let step = spec.resolution_kpa * 1e3;
        let value = if step > 0.0 {
            (value / step).round() * step
        } else {
            value
        };
        let (low, high) = (spec.range_min_kpa * 1e3, spec.range_max_kpa * 1e3);
        Sample {
            time: Time::from_s(time),
            sensor_time: Time::from_s(self.next as f64 / spec.rate_hz),
            pressure: Pressure::from_pa(value.clamp(low, high)),
            out_of_range: value < low || value > high,
            lost: false,
        }
    }

    /// A first-order autoregressive process of the given spread and correlation time.
    fn slow_noise(&mut self) -> f64 {
        let spread = self.spec.slow_noise_kpa * 1e3;
        if spread > 0.0 {
            let keep = libm::exp(-self.every / self.spec.slow_noise_s);
            self.slow =
                keep * self.slow + spread * (1.0 - keep * keep).sqrt() * self.draws.normal();
        }
        self.slow
    }
}
