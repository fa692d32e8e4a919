//! The bars beside the readings: how far each reaches of the highest pressure there is to show,
//! and where the card's range and limit lie. Shares of the bar's length, in per cent.

use crate::engine::Limits;
use crate::pipeline::Findings;
use crate::report::view::Units;
use crate::units::Pressure;
use serde::Serialize;

/// What all bars of a page share.
#[derive(Serialize)]
pub(super) struct Scale {
    /// Where the normal range begins, and how wide it is.
    range: Option<(String, String)>,
    /// Where the service limit lies.
    limit: Option<String>,
    /// What is to be seen, in words.
    key: String,
    /// By run: how far its reading reaches, where its uncertainty begins and how wide it is.
    runs: Vec<Option<(String, String, String)>>,
}

/// None where there is no reading.
pub(super) fn scale(findings: &Findings, units: Units) -> Option<Scale> {
    let none = Limits::default();
    let card = findings.card.as_ref().and_then(|card| card.limits.as_ref());
    let limits = card.unwrap_or(&none);
    let readings = findings.runs.iter().map(|run| {
        let reading = run.result.reading.as_ref().filter(|_| !run.void)?;
        Some((reading.value, reading.expanded))
    });
    let readings: Vec<Option<(Pressure, Pressure)>> = readings.collect();
    let highest = readings
        .iter()
        .flatten()
        .map(|(value, expanded)| *value + *expanded)
        .reduce(Pressure::max)?;
    let top = [limits.service_limit, limits.normal_high]
        .into_iter()
        .flatten()
        .fold(highest, Pressure::max);
    let share = |pressure: Pressure| {
        let share = if top > Pressure::ZERO {
            pressure / top
        } else {
            0.0
        };
        share.clamp(0.0, 1.0) * 100.0
    };
    let show = |share: f64| format!("{share:.1}");
    let from_to = |low, high| (show(share(low)), show(share(high) - share(low)));
    let range = limits.normal_low.zip(limits.normal_high);
    Some(Scale {
        range: range.map(|(low, high)| from_to(low, high)),
        limit: limits.service_limit.map(|limit| show(share(limit))),
        key: key(limits, units),
        runs: readings
            .into_iter()
            .map(|found| {
                let (value, expanded) = found?;
                let (from, width) = from_to(value - expanded, value + expanded);
                Some((show(share(value)), from, width))
            })
            .collect(),
    })
}

fn key(limits: &Limits, units: Units) -> String {
    let unit = units.main;
    let mut parts = vec!["Bars begin at zero; the dark end is the uncertainty.".to_owned()];
    if let Some((low, high)) = limits.normal_low.zip(limits.normal_high) {
        let (low, high) = (low.digits(unit), high.show(unit));
        parts.push(format!("Shaded: normal, {low} to {high}."));
    }
    if let Some(limit) = limits.service_limit {
        let limit = limit.show(unit);
        parts.push(format!("Upright line: service limit, {limit}."));
    }
    parts.join(" ")
}
