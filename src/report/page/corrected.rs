//! The page's part on a sensor that was corrected.

use super::fact::Fact;
use crate::pipeline::Findings;
use crate::report::corrected::beware;
use crate::report::view::{Number, Units};
use crate::report::words;

pub(super) fn corrected(findings: &Findings, units: Units) -> Vec<Fact> {
    let Some(correction) = &findings.sensor.correction else {
        return Vec::new();
    };
    let unit = units.main.to_string();
    let at = |field: &str| format!("/sensor/correction/{field}");
    let fine = |value, field: &str| Number::pressure_fine(value, units.main, at(field));
    let plain = |value, field: &str| Number::pressure(value, units.main, at(field));
    let mut facts = vec![
        Fact::text("The sensor was checked on", words::clean(&correction.date)),
        Fact::text("Against", words::clean(&correction.reference)),
        Fact::number(
            "This gauge is good to, ±",
            fine(correction.reference_accuracy, "reference_accuracy_pa"),
            unit.clone(),
        ),
        Fact::number(
            "Correction: what the sensor told, times",
            Number::plain(correction.gain, 4, at("gain")),
            "",
        ),
        Fact::number(
            "and then added",
            fine(correction.offset, "offset_pa"),
            unit.clone(),
        ),
        Fact::number(
            "Highest pressure checked",
            plain(correction.highest, "highest_pa"),
            unit.clone(),
        ),
        Fact::number(
            "What the correction leaves open there, ±",
            fine(correction.expanded, "expanded_pa"),
            unit.clone(),
        ),
    ];
    for (index, run) in findings.runs.iter().enumerate() {
        let Some(before) = correction.before.get(index).copied().flatten() else {
            continue;
        };
        let number = plain(before, &format!("before_pa/{index}"));
        let whose = format!(
            "{unit}, cylinder {}, {}",
            words::shorten(&run.cylinder, 30),
            run.condition.label()
        );
        facts.push(Fact::number("Reading before the correction", number, whose));
    }
    let warnings = beware(correction, units.main).into_iter();
    facts.extend(warnings.map(|warning| Fact::text("Beware", warning)));
    facts
}
