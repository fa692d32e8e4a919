//! A field's table, its digits, and the number that it must hold.

use super::common::{Check, at_most};
use crate::protocol::error::fault;
use crate::protocol::limits;
use crate::protocol::number::NumberType;
use crate::protocol::spec::{Field, Role};

pub(super) fn table(path: &str, field: &Field) -> Check {
    let points = &field.table;
    if points.is_empty() {
        return Ok(());
    }
    let path = format!("{path}.table");
    at_most(&path, points.len(), limits::TABLE)?;
    if points.len() < 2 {
        let what = "one point is no table";
        return Err(fault(path, what, "give two or more, or scale and offset"));
    }
    if field.scale != 1.0 || field.offset != 0.0 {
        let what = "a field has a table or scale and offset, not both";
        return Err(fault(path, what, "remove scale and offset, or the table"));
    }
    let usable = |number: &f64| number.is_finite() && number.abs() <= limits::SCALE.1;
    if let Some(index) = points.iter().position(|point| !point.iter().all(usable)) {
        let what = format!("point {} is no pair of usable numbers", index + 1);
        return Err(fault(path, what, "write [raw number, value]"));
    }
    let rises = points[points.len() - 1][1] > points[0][1];
    for (index, pair) in points.windows(2).enumerate() {
        let (step, rise) = (pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]);
        let steep = (rise / step).abs();
        if step <= 0.0 || rise == 0.0 || (rise > 0.0) != rises {
            return Err(fault(
                path,
                format!(
                    "points {} and {} do not go on as the others",
                    index + 1,
                    index + 2
                ),
                "raw numbers must rise, values rise or fall all the way: a reading must stand for \
                 one pressure",
            ));
        }
        if !(limits::SCALE.0..=limits::SCALE.1).contains(&steep) {
            let what = format!("points {} and {} are too far apart", index + 1, index + 2);
            return Err(fault(
                path,
                what,
                "use values that are not absurdly steep or flat",
            ));
        }
    }
    Ok(())
}

pub(super) fn digits(path: &str, field: &Field) -> Check {
    let path = format!("{path}.digits");
    if field.kind != NumberType::Decimal {
        let what = "only a number of type decimal has digits after a mark";
        return Err(fault(path, what, "remove this entry"));
    }
    if field.digits > Some(limits::DIGITS) {
        let remedy = format!("use 0 to {}", limits::DIGITS);
        return Err(fault(path, "a number has not so many digits", remedy));
    }
    Ok(())
}

pub(super) fn marker(path: &str, field: &Field, must: i64) -> Check {
    let path = format!("{path}.equals");
    let Some((low, high)) = field.kind.limits() else {
        let what = format!("{} is no whole number", field.kind.name());
        return Err(fault(path, what, "use a field of type u8 to i32"));
    };
    if field.role != Role::Other {
        let what = "a field that must hold one number tells nothing";
        return Err(fault(path, what, "give it the role `other`"));
    }
    if !(low..=high).contains(&must) {
        let what = format!("{must} does not fit {}", field.kind.name());
        return Err(fault(path, what, format!("use {low} to {high}")));
    }
    Ok(())
}
