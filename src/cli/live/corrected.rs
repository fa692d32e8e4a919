//! Whether what a sensor tells is to be corrected, and by which check.

use super::known::{self, Known};
use super::told::Told;
use crate::cli::{Exit, Failure};
use crate::correction::Checked;
use crate::pipeline::CorrectionFacts;
use crate::recording::SensorIdentity;
use crate::report::beware;
use crate::units::PressureUnit;

/// Adds the correction to the sensor, if there is one and the user wants it: by name, or, for a live
/// sensor, by `sensors correct NAME on`. Gives what to tell of it.
pub(in crate::cli) fn apply(
    sensor: &mut SensorIdentity,
    named: Option<&str>,
    live: bool,
    unit: PressureUnit,
) -> Result<Vec<Told>, Failure> {
    let checked = match named {
        Some(name) => Some(by_name(sensor, name)?),
        None if live => by_address(sensor)?,
        None => None,
    };
    if checked.is_some() {
        sensor.correction = checked;
    }
    let Some(checked) = &sensor.correction else {
        return Ok(Vec::new());
    };
    let today = jiff::Timestamp::now().to_string();
    let facts = CorrectionFacts::new(checked, &today).map_err(|error| {
        Failure::new(Exit::BadInput, error)
            .at("the sensor's check")
            .remedy("check the sensor again: needlerest sensors check")
    })?;
    let off = if named.is_none() && live {
        "; needlerest sensors correct NAME off leaves them as they are"
    } else {
        ""
    };
    let note = format!(
        "readings are corrected by the check of {} against \"{}\" (times {:.4}){off}",
        facts.date, facts.reference, facts.gain
    );
    let warnings = beware(&facts, unit).into_iter().map(Told::Warning);
    Ok(std::iter::once(Told::Note(note)).chain(warnings).collect())
}

fn by_name(sensor: &SensorIdentity, name: &str) -> Result<Checked, Failure> {
    let refused = |exit, what: String, remedy: &str| {
        Err(Failure::new(exit, what)
            .at(format!("--corrected {name:?}"))
            .remedy(remedy))
    };
    if sensor.correction.is_some() {
        let what = "this recording is corrected already".to_owned();
        return refused(Exit::Usage, what, "leave out --corrected");
    }
    let Some(known) = known::load(&known::path()?)?.remove(name) else {
        let what = format!("no sensor is remembered as \"{name}\"");
        return refused(Exit::Usage, what, "needlerest sensors lists the names");
    };
    if known.address != sensor.address {
        let what = format!("\"{name}\" is the name of another sensor than this one");
        return refused(
            Exit::Mismatch,
            what,
            "needlerest sensors lists names and addresses",
        );
    }
    let Some(check) = known.check else {
        let what = format!("\"{name}\" has not been checked");
        return refused(Exit::Usage, what, "needlerest sensors check NAME checks it");
    };
    Ok(check)
}

fn by_address(sensor: &SensorIdentity) -> Result<Option<Checked>, Failure> {
    let Ok(path) = known::path() else {
        return Ok(None);
    };
    let mut all = known::load(&path)?.into_values();
    let wanted = |known: &Known| known.corrected && known.address == sensor.address;
    Ok(all.find(wanted).and_then(|known| known.check))
}
