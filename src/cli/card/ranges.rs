//! What engines usually read, as a table.

use crate::engine::Ambient;
use crate::engine::usual::{BY_THUMB, CALCULATED, PRINTED, RATIOS, by_thumb, calculated};
use crate::units::{Pressure, PressureUnit};
use std::io::Write;

/// Low and high in a unit.
fn span((low, high): (Pressure, Pressure), unit: PressureUnit) -> String {
    match unit {
        PressureUnit::Psi => format!("{:.0} to {:.0}", low.to(unit), high.to(unit)),
        _ => format!("{:.1} to {:.1}", low.to(unit), high.to(unit)),
    }
}

/// The whole list.
pub(super) fn table(out: &mut impl Write) -> std::io::Result<()> {
    writeln!(
        out,
        "What engines usually read while cranked, throttle wide open, at sea level. The engine's \
         manual\ncomes first: cam timing, speed and height move these figures more than most \
         faults do.\n"
    )?;
    writeln!(
        out,
        "{:>5}  {:^25}  {:^25}",
        "ratio", "calculated (1)", "rule of thumb (2)"
    )?;
    writeln!(
        out,
        "{:>5}  {:^12} {:^12}  {:^12} {:^12}",
        "to 1", "psi", "bar", "psi", "bar"
    )?;
    for ratio in RATIOS {
        let Some(range) = calculated(ratio, &Ambient::of(None)) else {
            continue;
        };
        let thumb = by_thumb(ratio);
        writeln!(
            out,
            "{ratio:>5}  {:^12} {:^12}  {:^12} {:^12}",
            span(range, PressureUnit::Psi),
            span(range, PressureUnit::Bar),
            span(thumb, PressureUnit::Psi),
            span(thumb, PressureUnit::Bar),
        )?;
    }
    writeln!(out, "\n{}", filled("(1) ", CALCULATED))?;
    writeln!(out, "{}\n", filled("(2) ", BY_THUMB))?;
    writeln!(out, "Printed for one kind of engine:")?;
    for printed in PRINTED {
        let high = printed.high_psi.map(|high| format!(" to {high}"));
        writeln!(
            out,
            "  {:<22} {:>10} psi, {}\n      {}",
            printed.engine,
            format!("{}{}", printed.low_psi, high.unwrap_or_default()),
            printed.meaning,
            printed.source
        )?;
    }
    Ok(())
}

fn filled(mark: &str, text: &str) -> String {
    let layout = textwrap::Options::new(crate::cli::terminal::width())
        .initial_indent(mark)
        .subsequent_indent("    ");
    textwrap::fill(text, layout)
}

/// What one ratio predicts, for whoever is asked for a limit.
pub(super) fn one(ratio: f64, unit: PressureUnit) -> String {
    let thumb = span(by_thumb(ratio), unit);
    let range = calculated(ratio, &Ambient::of(None)).map(|range| span(range, unit));
    format!(
        "At {ratio}:1 a petrol engine reads {} {unit} ({CALCULATED}), or {thumb} {unit} by rule \
         of thumb ({BY_THUMB}).",
        range.unwrap_or_default()
    )
}
