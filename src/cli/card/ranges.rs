//! What engines usually read, as a table.

use super::draft::{Draft, Key};
use crate::engine::typical::{self, TYPICAL, Typical};
use crate::engine::usual::{BY_THUMB, CALCULATED, PRINTED, RATIOS, by_thumb, calculated};
use crate::engine::{Ambient, Cycle, Ignition};
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
    let about = "\nTypical of a kind of engine and its time, not of yours";
    writeln!(out, "{about} ({}):", typical::SOURCE)?;
    for one in TYPICAL {
        writeln!(out, "  {}, {}", ratio_of(&one), bore_of(&one))?;
        writeln!(out, "      {}{}", kind(&one), one.engine)?;
    }
    Ok(())
}

fn kind(one: &Typical) -> &'static str {
    match (one.ignition, one.cycle) {
        (Ignition::Compression, _) => "diesel: ",
        (Ignition::Spark, Cycle::TwoStroke) => "two-stroke: ",
        (Ignition::Spark, Cycle::FourStroke) => "",
    }
}

fn ratio_of(one: &Typical) -> String {
    format!("ratio {} to {}", one.ratio.0, one.ratio.1)
}

fn bore_of(one: &Typical) -> String {
    format!("bore {} to {} mm", one.bore_mm.0, one.bore_mm.1)
}

/// What is typical of an engine that works like this one, for whoever does not know his own's:
/// none where there is nothing to offer for this question.
pub(super) fn offered(key: Key, draft: &Draft) -> Option<String> {
    let (what, show): (&str, fn(&Typical) -> String) = match key {
        Key::Bore => ("bores", bore_of),
        Key::Ratio => ("ratios", ratio_of),
        _ => return None,
    };
    let mut lines = vec![format!(
        "  Not known? Enter leaves it out. Typical {what}, not this engine's ({}):",
        typical::SOURCE
    )];
    let alike = typical::of(draft.cycle, draft.ignition);
    lines.extend(alike.map(|one| format!("    {:<22} {}", show(one), one.engine)));
    (lines.len() > 1).then(|| lines.join("\n"))
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
