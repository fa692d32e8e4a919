//! Whether a protocol file makes sense: ranges, fields that overlap, entries that need others.

mod common;
mod others;
mod sensor;
mod stream;
mod table;
mod version;
mod wire;

use super::error::fault;
use super::limits;
use super::spec::Spec;
use common::{Check, short_text};

/// The first thing that is wrong, if anything is.
pub(super) fn validate(spec: &Spec) -> Check {
    version::version(spec)?;
    short_text("name", &spec.name, limits::NAME)?;
    if let Some(about) = &spec.about {
        short_text("about", about, limits::ABOUT)?;
    }
    recognise(spec)?;
    sensor::sensor(&spec.sensor)?;
    wire::wire(spec)?;
    stream::stream(&spec.stream)?;
    sensor::clock(spec)?;
    sensor::times(spec)?;
    others::status(spec)?;
    others::readings(spec)?;
    others::details(spec)?;
    one_use_each(spec)?;
    spec.commands
        .as_ref()
        .map_or(Ok(()), |commands| others::check_commands(spec, commands))
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

/// A characteristic that the file describes twice would be read twice.
fn one_use_each(spec: &Spec) -> Check {
    let mut seen = vec![(spec.stream.service, spec.stream.uuid)];
    let readings = spec.readings.iter().map(|one| (one.service, one.uuid));
    let details = spec.details.iter().map(|one| (one.service, one.uuid));
    let paths = (1..=spec.readings.len())
        .map(|index| format!("reading[{index}].uuid"))
        .chain((1..=spec.details.len()).map(|index| format!("detail[{index}].uuid")));
    for (one, path) in readings.chain(details).zip(paths) {
        if seen.contains(&one) {
            let what = format!("characteristic {} is described twice", one.1);
            return Err(fault(path, what, "keep one of them"));
        }
        seen.push(one);
    }
    Ok(())
}
