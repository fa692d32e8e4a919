//! The sensor: ranges, rates, clock.

use super::common::{Check, position, positive};
use crate::protocol::error::fault;
use crate::protocol::limits;
use crate::protocol::spec::{Role, Sensor, Spec};
use crate::protocol::values::WrittenPressure;

pub(super) fn sensor(sensor: &Sensor) -> Check {
    let pa = |pressure: Option<WrittenPressure>| pressure.map(|p| p.0.pa());
    for (path, value) in [
        ("sensor.resolution", pa(sensor.resolution)),
        ("sensor.accuracy", pa(sensor.accuracy)),
    ] {
        if value.is_some_and(|value| value <= 0.0) {
            return Err(fault(
                path,
                "is not above zero",
                "give a pressure above zero",
            ));
        }
    }
    let range = (pa(sensor.range_low), pa(sensor.range_high));
    if let (Some(low), Some(high)) = range
        && low >= high
    {
        return Err(fault(
            "sensor.range_high",
            "is not above `range_low`",
            "give the upper end of the range here and the lower end there",
        ));
    }
    if let Some(percent) = sensor.accuracy_percent_of_span {
        let path = "sensor.accuracy_percent_of_span";
        positive(path, percent, 100.0)?;
        if sensor.accuracy.is_some() {
            let what = "the accuracy is given twice";
            return Err(fault(path, what, "keep this or `accuracy`, not both"));
        }
        if range.0.is_none() || range.1.is_none() {
            let what = "a share of the span needs to know the span";
            return Err(fault(path, what, "give `range_low` and `range_high`"));
        }
    }
    rates(sensor)
}

fn rates(sensor: &Sensor) -> Check {
    let rates = [
        ("sensor.rate_lowest_hz", sensor.rate_lowest_hz),
        ("sensor.rate_hz", sensor.rate_hz),
        ("sensor.rate_highest_hz", sensor.rate_highest_hz),
    ];
    let mut below = 0.0;
    for (path, rate) in rates {
        let Some(rate) = rate else { continue };
        positive(path, rate, limits::RATE_HZ)?;
        if rate < below {
            return Err(fault(
                path,
                "is below the rate that should be slower",
                "order them `rate_lowest_hz`, `rate_hz`, `rate_highest_hz`",
            ));
        }
        below = rate;
    }
    Ok(())
}

pub(super) fn clock(spec: &Spec) -> Check {
    let tick = position(&spec.stream.fields, Role::Tick);
    let (clock, index) = match (&spec.clock, tick) {
        (None, None) => return Ok(()),
        (None, Some(index)) => {
            return Err(fault(
                format!("stream.field[{index}]"),
                "nothing says how long a tick is",
                "add `[clock]` with `tick_us`",
            ));
        }
        (Some(_), None) => {
            return Err(fault(
                "clock",
                "no field of the stream has the role `tick`",
                "add such a field or remove `[clock]`",
            ));
        }
        (Some(clock), Some(index)) => (clock, index),
    };
    positive("clock.tick_us", clock.tick_us, limits::TICK_US)?;
    let kind = spec.stream.fields[index - 1].kind;
    let highest = kind.limits().map_or(0, |(_, high)| high);
    let last = clock.last_tick.map_or(highest, i64::from);
    if last < 1 || last > highest {
        return Err(fault(
            "clock.last_tick",
            format!("{last} does not fit the tick's type, {}", kind.name()),
            format!("use 1 to {highest}"),
        ));
    }
    let around_s = (last + 1) as f64 * clock.tick_us / 1e6;
    if around_s < limits::SHORTEST_WRAP_S {
        return Err(fault(
            "clock",
            format!("the tick starts again every {around_s} s"),
            format!(
                "use a wider type or longer ticks: under {} s a lost packet cannot be told from \
                 a clock gone round",
                limits::SHORTEST_WRAP_S
            ),
        ));
    }
    Ok(())
}

/// Several samples a packet need to know how far apart they are.
pub(super) fn times(spec: &Spec) -> Check {
    let interval = position(&spec.stream.fields, Role::Interval);
    if let (Some(index), None) = (interval, &spec.clock) {
        return Err(fault(
            format!("stream.field[{index}]"),
            "an interval is counted in ticks, but there is no clock",
            "add `[clock]` and a field of role `tick`, or remove this field",
        ));
    }
    let several = spec.stream.text.is_some() || spec.stream.frame.is_some();
    if several && spec.clock.is_none() && spec.stream.ask.is_none() && spec.sensor.rate_hz.is_none()
    {
        return Err(fault(
            "sensor",
            "nothing says how far apart samples are that come in one packet",
            "give `rate_hz`",
        ));
    }
    let samples = spec.stream.samples.as_ref();
    let single = samples.is_none_or(|s| s.count == Some(1) || s.at_most == Some(1));
    if single || interval.is_some() {
        return Ok(());
    }
    if spec.sensor.rate_hz.is_none() {
        return Err(fault(
            "stream.samples",
            "nothing says how far apart the samples of a packet are",
            "give `rate_hz` in `[sensor]`, or add a field of role `interval`",
        ));
    }
    let can_change = spec.commands.as_ref().is_some_and(|c| c.set_rate.is_some());
    if can_change {
        return Err(fault(
            "commands.set_rate",
            "the rate can change, but a packet of several samples does not tell it",
            "add a field of role `interval`, or remove `set_rate`",
        ));
    }
    Ok(())
}
