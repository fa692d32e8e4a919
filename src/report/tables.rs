//! Tables for spreadsheets (CSV, RFC 4180): one row a stroke, one row a run. Column names end in
//! their unit.

use super::view::Units;
use super::words;
use crate::pipeline::{Findings, Run};
use crate::units::{Pressure, PressureUnit};
use std::fmt::Write as _;

/// Every stroke of every run, one a row.
pub fn strokes_csv(findings: &Findings, units: Units) -> String {
    let unit = units.main;
    let peak = column("peak", unit);
    let mut table = Table::new(&[
        "run",
        "cylinder",
        "condition",
        "void",
        "stroke",
        "time_s",
        "peak_pa",
        &peak,
        "rise_pa",
        "interval_s",
        "cut_off_pa",
        "packets_missing",
        "clipped",
    ]);
    for (n, run) in findings.runs.iter().enumerate() {
        for stroke in &run.result.strokes {
            table.row(vec![
                (n + 1).to_string(),
                words::clean(&run.cylinder),
                run.condition.label().to_owned(),
                run.void.to_string(),
                stroke.number.to_string(),
                stroke.time.s().to_string(),
                stroke.peak.pa().to_string(),
                stroke.peak.digits(unit),
                stroke.rise.pa().to_string(),
                some(stroke.interval, |t| t.s().to_string()),
                stroke.cut_off.pa().to_string(),
                stroke.packets_missing.to_string(),
                stroke.clipped.to_string(),
            ]);
        }
    }
    table.finish()
}

/// Every run, one a row.
pub fn runs_csv(findings: &Findings, units: Units) -> String {
    let unit = units.main;
    let (reading, expanded) = (column("reading", unit), column("expanded", unit));
    let mut table = Table::new(&[
        "run",
        "cylinder",
        "condition",
        "void",
        "rig",
        "outcome",
        "grade",
        "strokes",
        "count",
        "called_at",
        "reading_pa",
        "expanded_pa",
        "expanded_relative_pa",
        &reading,
        &expanded,
        "at_least",
        "heading_pa",
        "share_of_highest",
        "plateau_pa",
        "plateau_uncertainty_pa",
        "ratio",
        "first_share",
        "strokes_per_min",
        "unevenness",
        "zero_pa",
        "noise_pa",
        "droop_pa_per_s",
        "flags",
    ]);
    for (n, run) in findings.runs.iter().enumerate() {
        table.row(run_row(findings, n, run, unit));
    }
    table.finish()
}

/// Every sample of every run, one a row, where they were kept.
pub fn samples_csv(findings: &Findings, units: Units) -> String {
    let unit = units.main;
    let shown = column("pressure", unit);
    let mut table = Table::new(&[
        "run",
        "cylinder",
        "condition",
        "void",
        "time_s",
        "pressure_pa",
        &shown,
    ]);
    for (n, run) in findings.runs.iter().enumerate() {
        let samples = run.samples.iter();
        let both = samples.flat_map(|s| s.times.iter().zip(&s.pressures));
        for (time, pressure) in both {
            table.row(vec![
                (n + 1).to_string(),
                words::clean(&run.cylinder),
                run.condition.label().to_owned(),
                run.void.to_string(),
                time.s().to_string(),
                pressure.pa().to_string(),
                pressure.digits(unit),
            ]);
        }
    }
    table.finish()
}

fn run_row(findings: &Findings, n: usize, run: &Run, unit: PressureUnit) -> Vec<String> {
    let result = &run.result;
    let reading = result.reading.as_ref();
    let pa = |pressure: Pressure| pressure.pa().to_string();
    let assessed = findings
        .assessment
        .cylinders
        .iter()
        .flat_map(|c| &c.readings);
    let share = assessed
        .into_iter()
        .find(|r| r.run == n)
        .and_then(|r| r.share_of_highest);
    vec![
        (n + 1).to_string(),
        words::clean(&run.cylinder),
        run.condition.label().to_owned(),
        run.void.to_string(),
        result.rig.map_or_else(String::new, code),
        code(result.outcome),
        code(result.grade),
        result.strokes.len().to_string(),
        result.count.to_string(),
        some(result.call, |call| call.count.to_string()),
        some(reading, |r| pa(r.value)),
        some(reading, |r| pa(r.expanded)),
        some(reading, |r| pa(r.expanded_relative)),
        some(reading, |r| r.value.digits(unit)),
        some(reading, |r| r.expanded.digits(unit)),
        some(reading, |r| r.is_at_least().to_string()),
        some(reading.and_then(|r| r.heading), pa),
        some(share, |share| share.to_string()),
        some(result.build_up, |fit| pa(fit.plateau)),
        some(result.build_up, |fit| pa(fit.plateau_uncertainty)),
        some(result.build_up, |fit| fit.ratio.to_string()),
        some(result.build_up, |fit| fit.first_share.to_string()),
        some(result.cadence, |c| c.median.per_min().to_string()),
        some(result.cadence, |c| c.unevenness.to_string()),
        pa(result.zero.level),
        pa(result.noise),
        some(result.droop, |d| pa(d.per_second)),
        result
            .flags
            .iter()
            .map(flag_code)
            .collect::<Vec<_>>()
            .join(" "),
    ]
}

fn some<T>(value: Option<T>, show: impl FnOnce(T) -> String) -> String {
    value.map_or_else(String::new, show)
}

/// The word that stands for it in the JSON.
fn code(value: impl serde::Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(word)) => word,
        _ => String::new(),
    }
}

fn flag_code(flag: &crate::signal::Flag) -> String {
    serde_json::to_value(flag)
        .ok()
        .and_then(|value| value.get("flag")?.as_str().map(str::to_owned))
        .unwrap_or_default()
}

/// A column's name with its unit in letters that every program takes.
fn column(name: &str, unit: PressureUnit) -> String {
    let unit = match unit {
        PressureUnit::KgfPerCm2 => "kgf_per_cm2".to_owned(),
        other => other.symbol().to_owned(),
    };
    // Not the plain name, which is taken by pascal.
    format!("{name}_shown_{unit}")
}

/// A CSV table as it grows.
pub(super) struct Table {
    text: String,
}

impl Table {
    pub(super) fn new(names: &[&str]) -> Self {
        let mut table = Self {
            text: String::new(),
        };
        table.row(names.iter().map(|name| (*name).to_owned()).collect());
        table
    }

    /// The table's text.
    pub(super) fn finish(self) -> String {
        self.text
    }

    pub(super) fn row(&mut self, cells: Vec<String>) {
        for (n, cell) in cells.into_iter().enumerate() {
            let comma = if n == 0 { "" } else { "," };
            let _ = write!(self.text, "{comma}{}", quoted(&cell));
        }
        self.text.push_str("\r\n");
    }
}

/// Quoted where RFC 4180 asks for it. A text that a spreadsheet would run as a formula is given
/// an apostrophe in front.
fn quoted(cell: &str) -> String {
    let number = cell.parse::<f64>().is_ok();
    let formula = !number && cell.starts_with(['=', '+', '-', '@']);
    let cell = if formula {
        format!("'{cell}")
    } else {
        cell.to_owned()
    };
    if cell.contains(['"', ',', '\r', '\n']) {
        format!("\"{}\"", cell.replace('"', "\"\""))
    } else {
        cell
    }
}

#[cfg(test)]
mod tests {
    use super::quoted;

    /// RFC 4180, section 2, rules 5 to 7: a field with a comma or a quote is quoted, quotes doubled.
    #[test]
    fn quotes_as_rfc_4180_and_disarms_formulas() {
        assert_eq!(quoted("left"), "left");
        assert_eq!(quoted("a, \"b\""), "\"a, \"\"b\"\"\"");
        assert_eq!(quoted("=1+1"), "'=1+1");
        assert_eq!(quoted("-12.5"), "-12.5");
        assert_eq!(quoted("-cmd"), "'-cmd");
    }
}
