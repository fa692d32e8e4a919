//! Whether a protocol file makes sense: ranges, fields that overlap, entries that need others.

use super::command::{Placeholder, Template};
use super::error::{Fault, fault};
use super::layout::{Slot, placed};
use super::limits;
use super::spec::{Commands, Field, Role, Samples, Sensor, Spec, Stream};
use super::values::Unit;

type Check = Result<(), Fault>;

/// The first thing that is wrong, if anything is.
pub(super) fn validate(spec: &Spec) -> Check {
    short_text("name", &spec.name, limits::NAME)?;
    if let Some(about) = &spec.about {
        short_text("about", about, limits::ABOUT)?;
    }
    recognise(spec)?;
    sensor(&spec.sensor)?;
    stream(&spec.stream)?;
    clock(spec)?;
    times(spec)?;
    status(spec)?;
    readings(spec)?;
    details(spec)?;
    one_use_each(spec)?;
    spec.commands
        .as_ref()
        .map_or(Ok(()), |commands| check_commands(spec, commands))
}

fn short_text(path: &str, text: &str, most: usize) -> Check {
    let length = text.chars().count();
    if text.trim().is_empty() {
        return Err(fault(path, "is empty", "write a text"));
    }
    if length > most {
        return Err(fault(
            path,
            format!("is {length} characters long"),
            format!("use at most {most}"),
        ));
    }
    Ok(())
}

fn at_most(path: &str, count: usize, most: usize) -> Check {
    if count > most {
        return Err(fault(
            path,
            format!("there are {count} of them"),
            format!("use at most {most}"),
        ));
    }
    Ok(())
}

fn recognise(spec: &Spec) -> Check {
    if let Some(prefix) = &spec.recognise.name_prefix {
        short_text("recognise.name_prefix", prefix, limits::NAME)?;
    }
    if spec.recognise.service.is_none() && spec.recognise.name_prefix.is_none() {
        return Err(fault(
            "recognise",
            "nothing says how the sensor is found",
            "give `service`, `name_prefix` or both",
        ));
    }
    Ok(())
}

fn positive(path: &str, value: f64, highest: f64) -> Check {
    if value > 0.0 && value <= highest {
        return Ok(());
    }
    Err(fault(
        path,
        format!("{value} is out of bounds"),
        format!("use a number above 0, at most {highest}"),
    ))
}

fn sensor(sensor: &Sensor) -> Check {
    let pa = |pressure: Option<super::values::WrittenPressure>| pressure.map(|p| p.0.pa());
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

fn stream(stream: &Stream) -> Check {
    if !(1..=limits::PAYLOAD).contains(&stream.max_payload) {
        return Err(fault(
            "stream.max_payload",
            format!("{} bytes is out of bounds", stream.max_payload),
            format!("use 1 to {}: Bluetooth carries no more", limits::PAYLOAD),
        ));
    }
    let in_samples = stream.samples.as_ref().map_or(0, |s| s.fields.len());
    at_most(
        "stream.field",
        stream.fields.len() + in_samples,
        limits::FIELDS,
    )?;
    let head = placed(&stream.fields, stream.byte_order);
    let head_size = fields("stream.field", &stream.fields, &head, stream.max_payload)?;
    if let Some(samples) = &stream.samples {
        return block(stream, samples, head_size);
    }
    if let Some(index) = position(&stream.fields, Role::Count) {
        return Err(fault(
            format!("stream.field[{index}]"),
            "counts samples, but there is no block of them",
            "add `[stream.samples]` or remove this field",
        ));
    }
    needs_pressure("stream", &stream.fields)
}

fn needs_pressure(path: &str, fields: &[Field]) -> Check {
    match position(fields, Role::Pressure) {
        Some(_) => Ok(()),
        None => Err(fault(
            path,
            "no field has the role `pressure`",
            "say which field holds the pressure",
        )),
    }
}

fn position(fields: &[Field], role: Role) -> Option<usize> {
    fields
        .iter()
        .position(|field| field.role == role)
        .map(|index| index + 1)
}

fn block(stream: &Stream, samples: &Samples, head_size: usize) -> Check {
    if let Some(index) = position(&stream.fields, Role::Pressure) {
        return Err(fault(
            format!("stream.field[{index}]"),
            "a pressure stands outside the block of samples",
            "move it into `[stream.samples]`, or give it the role `other`",
        ));
    }
    for (index, field) in samples.fields.iter().enumerate() {
        if !matches!(field.role, Role::Pressure | Role::Temperature | Role::Other) {
            return Err(fault(
                format!("stream.samples.field[{}].role", index + 1),
                "a sample cannot hold this role",
                "use pressure, temperature or other; the rest belongs before the block",
            ));
        }
    }
    needs_pressure("stream.samples", &samples.fields)?;
    let slots = placed(&samples.fields, stream.byte_order);
    let room = stream.max_payload.saturating_sub(head_size);
    let size = fields("stream.samples.field", &samples.fields, &slots, room)?;
    let counted = position(&stream.fields, Role::Count);
    if let (Some(index), Some(_)) = (counted, samples.count) {
        return Err(fault(
            format!("stream.field[{index}]"),
            "the number of samples is given twice",
            "remove this field or `count` in `[stream.samples]`",
        ));
    }
    if samples.count.is_some() && samples.at_most.is_some() {
        return Err(fault(
            "stream.samples.at_most",
            "the number of samples is always `count`",
            "remove `at_most` or `count`",
        ));
    }
    for (path, count) in [
        ("stream.samples.count", samples.count),
        ("stream.samples.at_most", samples.at_most),
    ] {
        let Some(count) = count else { continue };
        if count == 0 || count > room / size {
            return Err(fault(
                path,
                format!(
                    "{count} samples do not fit a payload of {} bytes",
                    stream.max_payload
                ),
                format!("use 1 to {}, or a larger `max_payload`", room / size),
            ));
        }
    }
    Ok(())
}

/// Checks a list of fields; gives its size in bytes.
fn fields(path: &str, fields: &[Field], slots: &[Slot], room: usize) -> Result<usize, Fault> {
    let mut size = 0;
    for (index, (field, slot)) in fields.iter().zip(slots).enumerate() {
        let path = format!("{path}[{}]", index + 1);
        check_field(&path, field)?;
        if slot.end() > room {
            return Err(fault(
                path,
                format!(
                    "it ends at byte {}, the payload has room for {room} here",
                    slot.end()
                ),
                "make the fields shorter or `max_payload` larger",
            ));
        }
        let before = &slots[..index];
        if let Some(other) = before
            .iter()
            .position(|b| b.at < slot.end() && slot.at < b.end())
        {
            return Err(fault(
                path,
                format!("it overlaps field {} of the list", other + 1),
                "correct `at`, or leave it out to place the field after the one before",
            ));
        }
        if field.role != Role::Other && fields[..index].iter().any(|f| f.role == field.role) {
            return Err(fault(
                format!("{path}.role"),
                "two fields have this role",
                "keep one, and give the other the role `other`",
            ));
        }
        size = size.max(slot.end());
    }
    Ok(size)
}

fn check_field(path: &str, field: &Field) -> Check {
    if let Some(name) = &field.name {
        short_text(&format!("{path}.name"), name, limits::NAME)?;
    }
    let counts = matches!(
        field.role,
        Role::Sequence | Role::Tick | Role::Interval | Role::Count | Role::Status
    );
    if counts {
        return whole_number(path, field);
    }
    let scale = field.scale.abs();
    if !(scale.is_finite() && (limits::SCALE.0..=limits::SCALE.1).contains(&scale)) {
        return Err(fault(
            format!("{path}.scale"),
            format!("{} is no usable factor", field.scale),
            "use a number that is neither zero nor absurdly large or small",
        ));
    }
    if !(field.offset.is_finite() && field.offset.abs() <= limits::SCALE.1) {
        return Err(fault(
            format!("{path}.offset"),
            format!("{} is no usable offset", field.offset),
            "use a finite number",
        ));
    }
    unit(path, field)?;
    codes(path, field)
}

/// A field that counts has no scale, unit or special codes.
fn whole_number(path: &str, field: &Field) -> Check {
    if !field.kind.is_unsigned() {
        return Err(fault(
            format!("{path}.type"),
            format!("{} cannot hold this role", field.kind.name()),
            "use u8, u16, u24 or u32",
        ));
    }
    let plain = field.scale == 1.0
        && field.offset == 0.0
        && field.unit.is_none()
        && [field.over_range, field.under_range, field.no_value] == [None; 3];
    if !plain {
        return Err(fault(
            path,
            "a field of this role is a plain whole number",
            "remove scale, offset, unit, over_range, under_range and no_value",
        ));
    }
    Ok(())
}

fn unit(path: &str, field: &Field) -> Check {
    let path = format!("{path}.unit");
    match (field.role, field.unit) {
        (Role::Pressure, Some(Unit::Pressure(_))) | (Role::Other, _) => Ok(()),
        (Role::Pressure, _) => Err(fault(
            path,
            "a pressure needs a unit of pressure",
            "use psi, bar, kPa, kgf/cm2, Pa, hPa, mbar, MPa, atm, mmHg or inHg",
        )),
        (Role::Temperature, Some(unit)) if unit.is_temperature() => Ok(()),
        (Role::Temperature, _) => Err(fault(
            path,
            "a temperature needs a unit of temperature",
            "use celsius, fahrenheit or kelvin",
        )),
        (_, None | Some(Unit::Percent)) => Ok(()),
        (_, Some(_)) => Err(fault(path, "a battery is told in percent", "use percent")),
    }
}

fn codes(path: &str, field: &Field) -> Check {
    let codes = [
        ("over_range", field.over_range),
        ("under_range", field.under_range),
        ("no_value", field.no_value),
    ];
    let given: Vec<_> = codes
        .iter()
        .filter_map(|(name, code)| Some((name, (*code)?)))
        .collect();
    for (index, (name, code)) in given.iter().enumerate() {
        let path = format!("{path}.{name}");
        let Some((low, high)) = field.kind.limits() else {
            let what = format!("{} has its own codes for this", field.kind.name());
            return Err(fault(path, what, "remove this entry"));
        };
        if !(low..=high).contains(code) {
            return Err(fault(
                path,
                format!("{code} does not fit {}", field.kind.name()),
                format!("use {low} to {high}"),
            ));
        }
        if given[..index].iter().any(|(_, other)| other == code) {
            return Err(fault(path, "two codes are the same", "use different codes"));
        }
    }
    Ok(())
}

fn clock(spec: &Spec) -> Check {
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
fn times(spec: &Spec) -> Check {
    let interval = position(&spec.stream.fields, Role::Interval);
    if let (Some(index), None) = (interval, &spec.clock) {
        return Err(fault(
            format!("stream.field[{index}]"),
            "an interval is counted in ticks, but there is no clock",
            "add `[clock]` and a field of role `tick`, or remove this field",
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

fn status(spec: &Spec) -> Check {
    at_most("status", spec.status_bits.len(), limits::STATUS_BITS)?;
    let field = spec
        .stream
        .fields
        .iter()
        .find(|field| field.role == Role::Status);
    let width = field.map_or(0, |field| field.kind.size() as u32 * 8);
    for (index, bit) in spec.status_bits.iter().enumerate() {
        let path = format!("status[{}]", index + 1);
        short_text(&format!("{path}.meaning"), &bit.meaning, limits::MEANING)?;
        if bit.bit >= width {
            return Err(fault(
                format!("{path}.bit"),
                format!(
                    "the stream's status has {width} bits, so there is no bit {}",
                    bit.bit
                ),
                "count from 0, or add a wide enough field of role `status`",
            ));
        }
        if spec.status_bits[..index]
            .iter()
            .any(|other| other.bit == bit.bit)
        {
            let what = format!("bit {} is explained twice", bit.bit);
            return Err(fault(format!("{path}.bit"), what, "keep one of them"));
        }
    }
    Ok(())
}

fn readings(spec: &Spec) -> Check {
    at_most("reading", spec.readings.len(), limits::CHARACTERISTICS)?;
    for (index, reading) in spec.readings.iter().enumerate() {
        let path = format!("reading[{}]", index + 1);
        short_text(&format!("{path}.from"), &reading.from, limits::NAME)?;
        let taken = spec.readings[..index]
            .iter()
            .any(|other| other.from == reading.from);
        if taken || reading.from == super::STREAM {
            return Err(fault(
                format!("{path}.from"),
                format!("\"{}\" is taken", reading.from),
                "use another name",
            ));
        }
        if reading.access.is_empty() {
            let what = "nothing says how it is had";
            return Err(fault(
                format!("{path}.access"),
                what,
                "use read, notify or both",
            ));
        }
        let path = format!("{path}.field");
        if !matches!(
            reading.field.role,
            Role::Battery | Role::Temperature | Role::Other
        ) {
            return Err(fault(
                format!("{path}.role"),
                "a reading cannot have this role",
                "use battery, temperature or other",
            ));
        }
        check_field(&path, &reading.field)?;
        if reading.field.at.unwrap_or(0) > limits::PAYLOAD - reading.field.kind.size() {
            let what = "it lies beyond any payload";
            return Err(fault(format!("{path}.at"), what, "use a smaller `at`"));
        }
    }
    Ok(())
}

fn details(spec: &Spec) -> Check {
    at_most("detail", spec.details.len(), limits::CHARACTERISTICS)?;
    for (index, detail) in spec.details.iter().enumerate() {
        let path = format!("detail[{}].name", index + 1);
        short_text(&path, &detail.name, limits::NAME)?;
        if spec.details[..index]
            .iter()
            .any(|other| other.name == detail.name)
        {
            return Err(fault(
                path,
                format!("\"{}\" is taken", detail.name),
                "use another name",
            ));
        }
    }
    Ok(())
}

/// A characteristic that the file describes twice would be read twice.
fn one_use_each(spec: &Spec) -> Check {
    let mut seen = vec![spec.stream.uuid];
    let readings = spec.readings.iter().map(|reading| reading.uuid);
    let details = spec.details.iter().map(|detail| detail.uuid);
    let paths = (1..=spec.readings.len())
        .map(|index| format!("reading[{index}].uuid"))
        .chain((1..=spec.details.len()).map(|index| format!("detail[{index}].uuid")));
    for (uuid, path) in readings.chain(details).zip(paths) {
        if seen.contains(&uuid) {
            let what = format!("characteristic {uuid} is described twice");
            return Err(fault(path, what, "keep one of them"));
        }
        seen.push(uuid);
    }
    Ok(())
}

fn check_commands(spec: &Spec, commands: &Commands) -> Check {
    let all = [
        ("commands.start", &commands.start),
        ("commands.stop", &commands.stop),
        ("commands.zero", &commands.zero),
        ("commands.set_rate", &commands.set_rate),
    ];
    if all.iter().all(|(_, text)| text.is_none()) {
        return Err(fault(
            "commands",
            "there is no command in it",
            "add one or remove `[commands]`",
        ));
    }
    for (path, text) in all {
        let Some(text) = text else { continue };
        let template = Template::parse(text)
            .map_err(|what| fault(path, what, "write bytes in hexadecimal, such as \"01 00\""))?;
        if !(1..=limits::COMMAND).contains(&template.len()) {
            let what = format!("it is {} bytes long", template.len());
            return Err(fault(path, what, format!("use 1 to {}", limits::COMMAND)));
        }
        let sets_rate = path == "commands.set_rate";
        match template.placeholder() {
            Some(_) if !sets_rate => {
                return Err(fault(
                    path,
                    "this command has nothing to fill in",
                    "remove the placeholder",
                ));
            }
            None if sets_rate => {
                let remedy = "add \"{rate:u16}\" where the rate goes";
                return Err(fault(path, "nothing says where the rate goes", remedy));
            }
            Some(Placeholder::Interval) if spec.clock.is_none() => {
                let what = "an interval is counted in ticks, but there is no clock";
                return Err(fault(path, what, "use \"{rate:u16}\" or add `[clock]`"));
            }
            _ => {}
        }
        if sets_rate
            && (spec.sensor.rate_lowest_hz.is_none() || spec.sensor.rate_highest_hz.is_none())
        {
            return Err(fault(
                path,
                "nothing says which rates the sensor takes",
                "give `rate_lowest_hz` and `rate_highest_hz` in `[sensor]`",
            ));
        }
    }
    Ok(())
}
