//! The report for the terminal: what a mechanic takes in within ten seconds.

use super::air::air;
use super::corrected;
use super::damage::damage;
use super::link::poor;
use super::page::assessed::assessed;
use super::remarks::remarks;
use super::sparkline::sparkline;
use super::view::{Cell, CylinderTable, Units};
use super::words;
use crate::assess::Judgement;
use crate::pipeline::Findings;
use crate::units::Pressure;
use anstyle::{AnsiColor, Style};
use std::fmt::Write as _;
use unicode_width::UnicodeWidthStr;

/// Columns that a sparkline takes at most.
const SPARK: usize = 12;
/// Columns that a cylinder's name takes at most.
const NAME: usize = 16;

/// The report as text for a terminal `width` columns wide. Ends with a line feed.
pub fn text(findings: &Findings, units: Units, width: usize) -> String {
    let width = width.max(40);
    let view = CylinderTable::new(findings, units);
    let mut out = String::new();
    let damage = damage(&findings.recording);
    for line in &damage {
        push(&mut out, &words::fill(line, width));
    }
    if !damage.is_empty() {
        out.push('\n');
    }
    head(&mut out, findings, &view, width);
    let table = table(findings, &view);
    if table.iter().map(|line| line.width()).max().unwrap_or(0) <= width {
        for line in table {
            push(&mut out, line.trim_end());
        }
    } else {
        list(&mut out, findings, &view);
    }
    let beside = beside(findings, units);
    section(&mut out, "Beside the readings", &beside, width);
    section(
        &mut out,
        "The sensor",
        &corrected::said(findings, units),
        width,
    );
    section(&mut out, "Tests with air", &air(findings, units), width);
    let mut about = remarks(findings, units);
    about.extend(poor(findings).iter().map(|one| format!("{}.", one.line())));
    section(&mut out, "About the test", &about, width);
    let assessment = &findings.assessment;
    let unknown = &assessment.cannot_tell;
    section(&mut out, "Cannot be told from these runs", unknown, width);
    section(&mut out, "Next", &assessment.next_steps, width);
    out
}

fn push(out: &mut String, line: &str) {
    out.push_str(line);
    out.push('\n');
}

fn head(out: &mut String, findings: &Findings, view: &CylinderTable, width: usize) {
    let started = words::moment(&findings.recording.started);
    let room = width.saturating_sub(started.width());
    if view.label.width() + 3 <= room {
        let gap = room - view.label.width();
        push(out, &format!("{}{}{started}", view.label, " ".repeat(gap)));
    } else {
        push(out, &words::shorten(&view.label, width));
        push(out, &started);
    }
    let badge = badge(findings).0;
    let score = view
        .score
        .as_ref()
        .map_or_else(String::new, |score| match &view.score_expanded {
            Some(expanded) => format!(
                "  score {} ± {} ({})",
                score.text,
                expanded.text,
                words::SCORE
            ),
            None => format!("  score {} ({})", score.text, words::SCORE),
        });
    if badge.width() + score.width() <= width {
        push(out, &format!("{badge}{score}"));
    } else {
        push(out, &badge);
        push(out, &words::fill(score.trim_start(), width));
    }
    push(out, &words::fill(&view.verdict, width));
    out.push('\n');
}

/// What the judgement's line in [`text`] begins with, and the style that it may have.
pub fn badge(findings: &Findings) -> (String, Style) {
    let judgement = findings.assessment.judgement;
    let (word, sign) = (
        words::judgement(judgement),
        words::judgement_sign(judgement),
    );
    let shade = match judgement {
        Judgement::Pass => AnsiColor::Green,
        Judgement::Fail => AnsiColor::Red,
        Judgement::Unconfirmed | Judgement::TooCloseToCall => AnsiColor::Yellow,
        Judgement::NotJudged | Judgement::Incomplete => AnsiColor::Cyan,
    };
    let style = Style::new().bold().fg_color(Some(shade.into()));
    (format!("{sign} {}", word.to_uppercase()), style)
}

/// The table, one line an entry, columns padded to equal width.
fn table(findings: &Findings, view: &CylinderTable) -> Vec<String> {
    let top = highest_peak(findings);
    let mut columns: Vec<Vec<String>> = vec![vec!["cylinder".to_owned()]];
    columns.extend(
        view.conditions
            .iter()
            .map(|condition| vec![format!("{condition} ({})", view.unit)]),
    );
    columns.push(vec!["score".to_owned()]);
    columns.push(vec!["likely cause".to_owned()]);
    for row in &view.rows {
        let mut entries: Vec<Vec<String>> = vec![vec![words::shorten(&row.name, NAME)]];
        entries.extend(row.cells.iter().map(|cells| {
            if cells.is_empty() {
                return vec!["–".to_owned()];
            }
            cells
                .iter()
                .flat_map(|cell| cell_lines(findings, cell, top, ""))
                .collect()
        }));
        entries.push(vec![row.score_text()]);
        entries.push(vec![row.cause_text()]);
        append(&mut columns, entries);
    }
    if view.spreads.iter().any(Option::is_some) {
        let mut entries = vec![vec!["low/high".to_owned()]];
        entries.extend(view.spreads.iter().map(|spread| {
            spread.as_ref().map_or_else(Vec::new, |s| {
                vec![format!(
                    "{} ± {} % {}",
                    s.share.text, s.expanded.text, s.sign
                )]
            })
        }));
        append(&mut columns, entries);
    }
    lay_out(&columns)
}

/// Adds a row whose entries may have several lines.
fn append(columns: &mut [Vec<String>], entries: Vec<Vec<String>>) {
    let height = entries.iter().map(Vec::len).max().unwrap_or(0);
    let mut entries = entries.into_iter();
    for column in columns {
        let mut lines = entries.next().unwrap_or_default();
        lines.resize(height, String::new());
        column.extend(lines);
    }
}

fn lay_out(columns: &[Vec<String>]) -> Vec<String> {
    let height = columns.iter().map(Vec::len).max().unwrap_or(0);
    let mut lines = vec![String::new(); height];
    for column in columns {
        let wide = column.iter().map(|entry| entry.width()).max().unwrap_or(0);
        for (line, entry) in lines.iter_mut().zip(column) {
            let pad = wide - entry.width() + 2;
            let _ = write!(line, "{entry}{}", " ".repeat(pad));
        }
    }
    lines
}

/// A reading with what belongs under it.
fn cell_lines(findings: &Findings, cell: &Cell, top: Pressure, unit: &str) -> Vec<String> {
    let reading = &cell.reading;
    let mut lines = vec![format!(
        "{} ± {}{unit}",
        reading.value.text, reading.expanded.text
    )];
    if let Some((value, expanded, unit)) = &reading.also {
        lines.push(format!("{} ± {} {unit}", value.text, expanded.text));
    }
    let peaks: Vec<Pressure> = findings
        .runs
        .get(cell.run)
        .map(|run| {
            let result = &run.result;
            result.strokes.iter().map(|s| s.shown(result.rig)).collect()
        })
        .unwrap_or_default();
    let spark = sparkline(&peaks, top, SPARK);
    lines.push(match &cell.share {
        Some(share) => format!("{:>4} % {spark}", share.text),
        None => format!("       {spark}"),
    });
    let notes = [
        cell.at_least.then(|| "at least: climbing".to_owned()),
        cell.grade.map(|grade| format!("{grade} test")),
    ];
    let notes: Vec<String> = notes.into_iter().flatten().collect();
    if !notes.is_empty() {
        lines.push(notes.join(", "));
    }
    lines
}

fn highest_peak(findings: &Findings) -> Pressure {
    findings
        .runs
        .iter()
        .filter(|run| !run.void)
        .flat_map(|run| &run.result.strokes)
        .fold(Pressure::ZERO, |top, stroke| top.max(stroke.peak))
}

/// For a narrow terminal: one reading a line.
fn list(out: &mut String, findings: &Findings, view: &CylinderTable) {
    let top = highest_peak(findings);
    for row in &view.rows {
        push(
            out,
            &format!("cylinder {}", words::shorten(&row.name, NAME)),
        );
        for (condition, cells) in view.conditions.iter().zip(&row.cells) {
            for cell in cells {
                let unit = format!(" {}", view.unit);
                let mut lines = cell_lines(findings, cell, top, &unit).into_iter();
                let reading = lines.next().unwrap_or_default();
                push(out, &format!("  {condition:5}{reading}"));
                for line in lines {
                    push(out, &format!("       {line}"));
                }
            }
        }
        let mut last = format!("  score {}", row.score_text());
        if row.cause.is_some() {
            let _ = write!(last, "; {}", row.cause_text());
        }
        push(out, &last);
    }
    for (condition, spread) in view.conditions.iter().zip(&view.spreads) {
        if let Some(s) = spread {
            let (share, expanded) = (&s.share.text, &s.expanded.text);
            let line = format!(
                "{condition}: lowest/highest {share} ± {expanded} %, {}",
                s.judgement
            );
            push(out, &line);
        }
    }
}

/// What was computed from the job card.
fn beside(findings: &Findings, units: Units) -> Vec<String> {
    let found = assessed(findings, units);
    let mut said: Vec<String> = found.disagreement.into_iter().collect();
    said.extend(found.expected.iter().map(|e| {
        let (low, high, likely) = (&e.low.text, &e.high.text, &e.likely.text);
        let (unit, condition) = (units.main, e.condition);
        format!("A tight engine of this kind should read {low} to {high} {unit} {condition}, most likely {likely}.")
    }));
    said.extend(found.allowance.iter().map(|a| {
        let (sum, currency) = (&a.expected.text, &a.currency);
        format!("Allow {sum} {currency} for repairs, on average. {}", a.text)
    }));
    said
}

fn section(out: &mut String, title: &str, lines: &[String], width: usize) {
    if lines.is_empty() {
        return;
    }
    let options = textwrap::Options::new(width)
        .initial_indent("- ")
        .subsequent_indent("  ");
    push(out, &format!("\n{title}"));
    for line in lines {
        push(out, &words::fill(&words::clean(line), options.clone()));
    }
}
