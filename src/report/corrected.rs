//! What is said of a sensor whose pressures were corrected, and of the check behind it.

use super::view::Units;
use super::words;
use crate::pipeline::{CorrectionFacts, DriftFacts, Findings};
use crate::units::{Pressure, PressureUnit};

/// Names are shortened to so many columns.
const NAME: usize = 30;

/// In sentences; none where the sensor was not corrected. What to beware of comes first.
pub(super) fn said(findings: &Findings, units: Units) -> Vec<String> {
    let Some(correction) = &findings.sensor.correction else {
        return Vec::new();
    };
    let unit = units.main;
    let mut said = beware(correction, unit);
    said.push(format!(
        "Readings are corrected by the check of {} against \"{}\", good to ±{}: times {:.4}. It leaves \
         ±{} open at {}, the highest pressure checked.",
        correction.date,
        words::clean(&correction.reference),
        correction.reference_accuracy.show(unit),
        correction.gain,
        correction.expanded.digits(unit),
        correction.highest.show(unit),
    ));
    let readings = readings(findings, correction);
    let before = readings.map(|(name, value, before)| {
        format!(
            "{name} {} before, {} after",
            before.digits(unit),
            value.digits(unit)
        )
    });
    let before: Vec<String> = before.collect();
    if !before.is_empty() {
        said.push(format!("In {unit}: {}.", before.join("; ")));
    }
    said
}

/// Each counted reading's run, the reading, and what it was before the correction.
fn readings<'a>(
    findings: &'a Findings,
    correction: &'a CorrectionFacts,
) -> impl Iterator<Item = (String, Pressure, Pressure)> + 'a {
    let runs = findings.runs.iter().zip(&correction.before);
    runs.filter(|(run, _)| !run.void)
        .filter_map(|(run, before)| {
            let value = run.result.reading.as_ref()?.value;
            let name = words::shorten(&run.cylinder, NAME);
            Some((
                format!("{name}, {}:", run.condition.label()),
                value,
                (*before)?,
            ))
        })
}

/// Why the correction may not be what it was.
pub fn beware(correction: &CorrectionFacts, unit: PressureUnit) -> Vec<String> {
    let mut said = Vec::new();
    let date = &correction.date;
    if correction.old {
        said.push(format!(
            "The sensor was last checked on {date}, more than a year before: check it again \
             (needlerest sensors check)."
        ));
    }
    if correction.dated_after {
        said.push(format!(
            "The sensor's check is dated {date}, after the recording began: one of the two dates \
             is wrong."
        ));
    }
    if let Some(drift) = correction.drift.as_ref().filter(|drift| drift.clear) {
        said.push(drifted(drift, date, unit));
    }
    if correction.reach <= Pressure::ZERO {
        said.push(
            "Only one pressure was checked, so that a bend in the sensor could not be seen: its \
             stated accuracy still counts."
                .to_owned(),
        );
    }
    said
}

fn drifted(drift: &DriftFacts, date: &str, unit: PressureUnit) -> String {
    let way = if drift.by > Pressure::ZERO {
        "more"
    } else {
        "less"
    };
    let place = if drift.at > Pressure::ZERO {
        format!("at {}", drift.at.show(unit))
    } else {
        "at zero".to_owned()
    };
    format!(
        "The sensor has drifted: {place} it told {} ± {} {way} at the check of {date} than at that \
         of {}. What moved once may move again: check it often, or replace it.",
        drift.by.abs().show(unit),
        drift.expanded.digits(unit),
        drift.since,
    )
}
