//! The stream: fields and where they lie.

use super::common::{Check, at_most, position, short_text};
use super::table::{self, digits, marker};
use crate::protocol::error::{Unplaced, fault};
use crate::protocol::layout::{head, placed};
use crate::protocol::limits;
use crate::protocol::slot::Slot;
use crate::protocol::spec::{Field, Role, Samples, Stream};
use crate::protocol::values::Unit;

pub(super) fn stream(stream: &Stream) -> Check {
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
    let slots = head(stream);
    let head_size = fields("stream.field", &stream.fields, &slots, stream.room())?;
    let head_size = head_size.max(stream.header());
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
    let slots = placed(&samples.fields, stream.byte_order, 0);
    let room = stream.room().saturating_sub(head_size);
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
                    stream.room()
                ),
                format!("use 1 to {}, or a larger `max_payload`", room / size),
            ));
        }
    }
    Ok(())
}

/// Checks a list of fields; gives its size in bytes.
fn fields(path: &str, fields: &[Field], slots: &[Slot], room: usize) -> Result<usize, Unplaced> {
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

pub(super) fn check_field(path: &str, field: &Field) -> Check {
    if let Some(name) = &field.name {
        short_text(&format!("{path}.name"), name, limits::NAME)?;
    }
    if let Some(must) = field.equals {
        marker(path, field, must)?;
    }
    if field.digits.is_some() {
        digits(path, field)?;
    }
    let counts = matches!(
        field.role,
        Role::Sequence | Role::Tick | Role::Interval | Role::Count | Role::Status
    );
    if counts {
        return whole_number(path, field);
    }
    table::table(path, field)?;
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
        && field.table.is_empty()
        && [field.over_range, field.under_range, field.no_value] == [None; 3];
    if !plain {
        return Err(fault(
            path,
            "a field of this role is a plain whole number",
            "remove scale, offset, table, unit, over_range, under_range and no_value",
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
