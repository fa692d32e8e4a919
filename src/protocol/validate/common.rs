//! Checks that many entries share.

use crate::protocol::error::{Unplaced, fault};
use crate::protocol::spec::{Field, Role};

/// None, or what is wrong.
pub(super) type Check = Result<(), Unplaced>;

pub(super) fn short_text(path: &str, text: &str, most: usize) -> Check {
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

pub(super) fn at_most(path: &str, count: usize, most: usize) -> Check {
    if count > most {
        return Err(fault(
            path,
            format!("there are {count} of them"),
            format!("use at most {most}"),
        ));
    }
    Ok(())
}

pub(super) fn positive(path: &str, value: f64, highest: f64) -> Check {
    if value > 0.0 && value <= highest {
        return Ok(());
    }
    Err(fault(
        path,
        format!("{value} is out of bounds"),
        format!("use a number above 0, at most {highest}"),
    ))
}

pub(super) fn position(fields: &[Field], role: Role) -> Option<usize> {
    fields
        .iter()
        .position(|field| field.role == role)
        .map(|index| index + 1)
}
