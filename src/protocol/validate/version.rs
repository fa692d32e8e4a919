//! What belongs to version 2 and may not stand in a file of version 1.

use super::common::Check;
use crate::protocol::error::fault;
use crate::protocol::number::NumberType;
use crate::protocol::spec::{Field, Spec};

/// A program that knows version 1 alone would refuse the file, so it must say what it is.
pub(super) fn version(spec: &Spec) -> Check {
    if spec.version > 1 {
        return Ok(());
    }
    let stream = &spec.stream;
    let own = [
        ("stream.service", stream.service.is_some()),
        ("stream.text", stream.text.is_some()),
        ("stream.frame", stream.frame.is_some()),
        ("stream.ask", stream.ask.is_some()),
    ];
    let commands = spec.commands.as_ref();
    let commands = commands.is_some_and(|commands| commands.service.is_some());
    let own = own.into_iter().chain([("commands.service", commands)]);
    let mut newer: Vec<String> = own
        .filter(|(_, given)| *given)
        .map(|(path, _)| path.to_owned())
        .collect();
    let services = |path: &str, given: &mut dyn Iterator<Item = bool>| {
        let given = given.enumerate().filter(|(_, given)| *given);
        let paths = given.map(|(index, _)| format!("{path}[{}].service", index + 1));
        paths.collect::<Vec<_>>()
    };
    let readings = &mut spec.readings.iter().map(|one| one.service.is_some());
    newer.extend(services("reading", readings));
    let details = &mut spec.details.iter().map(|one| one.service.is_some());
    newer.extend(services("detail", details));
    newer.extend(fields("stream.field", &stream.fields));
    if let Some(samples) = &stream.samples {
        newer.extend(fields("stream.samples.field", &samples.fields));
    }
    for (index, reading) in spec.readings.iter().enumerate() {
        let path = format!("reading[{}].field", index + 1);
        newer.extend(entries(&reading.field).map(|entry| format!("{path}.{entry}")));
    }
    match newer.into_iter().next() {
        None => Ok(()),
        Some(path) => Err(fault(
            path,
            "version 1 of the format does not have this",
            "write version = 2 at the top of the file",
        )),
    }
}

fn fields(path: &str, fields: &[Field]) -> Vec<String> {
    let fields = fields.iter().enumerate();
    fields
        .flat_map(|(index, field)| {
            entries(field).map(move |entry| format!("{path}[{}].{entry}", index + 1))
        })
        .collect()
}

/// The entries of a field that version 1 does not have.
fn entries(field: &Field) -> impl Iterator<Item = &'static str> + use<> {
    let given = [
        ("type", field.kind == NumberType::Decimal),
        ("table", !field.table.is_empty()),
        ("digits", field.digits.is_some()),
        ("equals", field.equals.is_some()),
    ];
    given
        .into_iter()
        .filter(|(_, given)| *given)
        .map(|(entry, _)| entry)
}
