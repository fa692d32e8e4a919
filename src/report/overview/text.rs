//! The overview for a terminal.

use super::{Distribution, Overview, Session};
use crate::report::view::Units;
use crate::report::words;
use crate::units::Pressure;
use std::fmt::Write as _;
use unicode_width::UnicodeWidthStr;

/// A session's row as texts: what terminal, page and table share.
pub(super) fn cells(session: &Session, units: Units) -> [String; 8] {
    let none = || "–".to_owned();
    let worst = session.worst.as_ref().map_or_else(none, |worst| {
        let (value, expanded) = (
            worst.value.digits(units.main),
            worst.expanded.show(units.main),
        );
        let name = words::shorten(&worst.cylinder, 12);
        format!("{value} ± {expanded} ({name}, {})", worst.condition.label())
    });
    let spread = session.spread.as_ref().map_or_else(none, |spread| {
        let (share, expanded) = (spread.share * 100.0, spread.expanded * 100.0);
        let sign = words::judgement_sign(spread.judgement);
        format!("{share:.1} ± {expanded:.1} % {sign}")
    });
    let score = match (session.score, session.score_expanded) {
        (Some(score), Some(expanded)) => format!("{score:.0} ± {expanded:.0}"),
        (Some(score), None) => format!("{score:.0}"),
        (None, _) => none(),
    };
    let change = session.change.as_ref().map_or_else(none, |change| {
        let clear = if change.score.abs() > change.expanded {
            ""
        } else {
            " (within uncertainty)"
        };
        let sign = if change.score < 0.0 { "−" } else { "+" };
        format!(
            "{sign}{:.0} ± {:.0}{clear}",
            change.score.abs(),
            change.expanded
        )
    });
    [
        session.engine.clone(),
        words::clean(&session.started).chars().take(10).collect(),
        format!(
            "{} {}",
            words::judgement_sign(session.judgement),
            words::judgement(session.judgement)
        ),
        worst,
        spread,
        score,
        change,
        words::clean(&session.file),
    ]
}

/// Names of [`cells`].
pub(super) const COLUMNS: [&str; 8] = [
    "engine",
    "date",
    "judgement",
    "lowest reading",
    "lowest/highest",
    "score",
    "since last",
    "recording",
];

/// A distribution in words: what, and its five numbers.
pub(super) fn distributions(overview: &Overview, units: Units) -> Vec<(&'static str, String)> {
    let plain = |value: u64| value.to_string();
    let pressure = |value: u64| Pressure::from_pa(value as f64).digits(units.main);
    let words = |d: &Distribution, show: &dyn Fn(u64) -> String| {
        format!(
            "{} lowest, {} / {} / {} at 10 / 50 / 90 %, {} highest, of {}",
            show(d.min),
            show(d.p10),
            show(d.p50),
            show(d.p90),
            show(d.max),
            d.count
        )
    };
    let mut said = Vec::new();
    if let Some(found) = &overview.plateaus_pa {
        said.push((
            "Readings",
            format!("in {}: {}", units.main, words(found, &pressure)),
        ));
    }
    if let Some(found) = &overview.strokes_to_settle {
        said.push(("Strokes to settle", words(found, &plain)));
    }
    if let Some(found) = &overview.lost_per_10000 {
        said.push(("Packets lost of 10 000", words(found, &plain)));
    }
    said
}

/// The overview as text for a terminal `width` columns wide.
pub fn text(overview: &Overview, units: Units, width: usize) -> String {
    let rows: Vec<[String; 8]> = overview.sessions.iter().map(|s| cells(s, units)).collect();
    let mut out = String::new();
    let widths: Vec<usize> = (0..COLUMNS.len())
        .map(|n| {
            let cells = rows.iter().filter_map(|row| row.get(n)).map(|c| c.width());
            let name = COLUMNS.get(n).map_or(0, |name| name.len());
            cells.chain([name]).max().unwrap_or(0).min(32)
        })
        .collect();
    if widths.iter().sum::<usize>() + 2 * widths.len() <= width {
        let names = COLUMNS.map(str::to_owned);
        for row in std::iter::once(&names).chain(&rows) {
            let mut line = String::new();
            for (cell, wide) in row.iter().zip(&widths) {
                let cell = words::shorten(cell, *wide);
                let pad = wide - cell.width() + 2;
                let _ = write!(line, "{cell}{}", " ".repeat(pad));
            }
            out.push_str(line.trim_end());
            out.push('\n');
        }
    } else {
        for row in &rows {
            for (n, (name, cell)) in COLUMNS.iter().zip(row).enumerate() {
                let line = if n == 0 {
                    cell.clone()
                } else {
                    format!("  {name}: {cell}")
                };
                out.push_str(&words::shorten(&line, width));
                out.push('\n');
            }
        }
    }
    for (what, spread) in distributions(overview, units) {
        let line = format!("{what}: {spread}");
        let _ = write!(out, "\n{}", textwrap::fill(&line, width));
    }
    out.push('\n');
    for failed in &overview.failed {
        let line = format!(
            "not read: {}: {}",
            words::clean(&failed.file),
            words::clean(&failed.why)
        );
        let _ = writeln!(out, "{}", textwrap::fill(&line, width));
    }
    out
}
