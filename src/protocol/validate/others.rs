//! Status bits, other characteristics, commands.

use super::common::{Check, at_most, short_text};
use super::stream::check_field;
use crate::protocol::STREAM;
use crate::protocol::command::{Placeholder, Template};
use crate::protocol::error::fault;
use crate::protocol::limits;
use crate::protocol::number::NumberType;
use crate::protocol::spec::{Commands, Role, Spec};

pub(super) fn status(spec: &Spec) -> Check {
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

pub(super) fn readings(spec: &Spec) -> Check {
    at_most("reading", spec.readings.len(), limits::CHARACTERISTICS)?;
    for (index, reading) in spec.readings.iter().enumerate() {
        let path = format!("reading[{}]", index + 1);
        short_text(&format!("{path}.from"), &reading.from, limits::NAME)?;
        let taken = spec.readings[..index]
            .iter()
            .any(|other| other.from == reading.from);
        if taken || reading.from == STREAM {
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
        if reading.field.kind == NumberType::Decimal || reading.field.equals.is_some() {
            let what = "a reading is one packed number, not text, and of one kind";
            return Err(fault(
                path,
                what,
                "use a type of packed numbers, and no `equals`",
            ));
        }
        if reading.field.at.unwrap_or(0) > limits::PAYLOAD - reading.field.kind.size() {
            let what = "it lies beyond any payload";
            return Err(fault(format!("{path}.at"), what, "use a smaller `at`"));
        }
    }
    Ok(())
}

pub(super) fn details(spec: &Spec) -> Check {
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

pub(super) fn check_commands(spec: &Spec, commands: &Commands) -> Check {
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
