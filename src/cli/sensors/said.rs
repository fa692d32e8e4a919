//! What the commands on sensors say of checks and corrections.

use crate::correction::{Check, Checked, Correction};
use crate::pipeline::CorrectionFacts;
use crate::report::{beware, words};
use crate::units::{Pressure, PressureUnit};

/// A pressure with one decimal more than readings have.
pub(super) fn fine(pressure: Pressure, unit: PressureUnit) -> String {
    format!("{} {unit}", digits(pressure, unit))
}

fn digits(pressure: Pressure, unit: PressureUnit) -> String {
    // Below what a gauge shows there is nothing to see.
    let shown = pressure.digits(unit);
    let decimals = shown.split_once('.').map_or(0, |(_, after)| after.len()) + 1;
    let text = format!("{:.decimals$}", pressure.to(unit));
    let nothing = text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.'));
    text.strip_prefix('-')
        .filter(|_| nothing)
        .unwrap_or(&text)
        .to_owned()
}

/// What a person typed off a gauge: a number with a decimal point or comma, with a unit or in the
/// usual one.
pub(super) fn pressure(text: &str, unit: PressureUnit) -> Result<Pressure, String> {
    let text = text.trim();
    let one_comma = text.matches(',').count() == 1 && !text.contains('.');
    let text = if one_comma {
        text.replace(',', ".")
    } else {
        text.to_owned()
    };
    let read = match text.parse::<f64>() {
        Ok(number) => Ok(Pressure::new(number, unit)),
        Err(_) => text.parse::<Pressure>(),
    };
    let finite = read.ok().filter(|pressure| pressure.is_finite());
    finite.ok_or_else(|| {
        format!(
            "\"{}\" is no pressure: type what the gauge reads, such as 2.1",
            words::clean(&text)
        )
    })
}

/// The points of a check as a table.
pub(super) fn table(check: &Check, by: &Correction, unit: PressureUnit) -> Vec<String> {
    let row = |cells: [String; 4]| {
        let [a, b, c, d] = cells;
        format!("{a:>12} {b:>14} {c:>14} {d:>14}")
            .trim_end()
            .to_owned()
    };
    let head = ["gauge", "sensor told", "corrected", "left over"].map(str::to_owned);
    let mut lines = vec![format!("In {unit}:"), row(head)];
    let base = match check.points.first() {
        Some(zero) if check.absolute => zero.told,
        _ => Pressure::ZERO,
    };
    lines.extend(check.points.iter().map(|point| {
        let corrected = by.of(point.told) - base;
        row([
            digits(point.gauge, unit),
            digits(point.told - base, unit),
            digits(corrected, unit),
            digits(corrected - point.gauge, unit),
        ])
    }));
    lines
}

/// What a check comes to, in sentences.
pub(super) fn result(check: &Check, by: &Correction, unit: PressureUnit) -> Vec<String> {
    let top = by.highest;
    let open = by.expanded(top);
    let added = match by.offset {
        _ if check.absolute => String::new(),
        less if less < Pressure::ZERO => format!(", less {}", fine(less.abs(), unit)),
        more => format!(", plus {}", fine(more, unit)),
    };
    let told = top / by.gain;
    let off = told - top;
    let way = if off > Pressure::ZERO {
        "too much"
    } else {
        "too little"
    };
    let verdict = if off.abs() > open {
        format!(
            "The sensor tells {} {way} at {}",
            fine(off.abs(), unit),
            top.show(unit)
        )
    } else {
        format!("The sensor agrees with the gauge at {}", top.show(unit))
    };
    vec![
        format!("{verdict}, its zero set aside."),
        format!(
            "Correction: what it tells times {:.4}{added}. It leaves ±{} open at {} (two standard \
             uncertainties, about 95 %), most of it what the gauge may be off by.",
            by.gain,
            fine(open, unit),
            top.show(unit)
        ),
    ]
}

/// What to beware of with these checks today.
pub(super) fn warnings(checked: &Checked, unit: PressureUnit) -> Vec<String> {
    let today = jiff::Timestamp::now().to_string();
    // A check that makes no sense is refused where it is read.
    let facts = CorrectionFacts::new(checked, &today);
    facts.map_or_else(
        |error| vec![error.to_string()],
        |facts| beware(&facts, unit),
    )
}

/// A sensor's check in a line of the list.
pub(super) fn listed(checked: &Checked, by: &Correction, on: bool, unit: PressureUnit) -> String {
    let state = if on { "corrected" } else { "not corrected" };
    format!(
        "{state}; checked {} against \"{}\", up to {}: times {:.4}, ±{} left open there",
        checked.last.date,
        words::clean(&checked.last.reference),
        by.highest.show(unit),
        by.gain,
        fine(by.expanded(by.highest), unit),
    )
}
