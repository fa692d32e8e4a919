//! The overview for a terminal.

use super::{Change, Distribution, Overview, Session};
use crate::assess::Judgement;
use crate::report::view::Units;
use crate::report::words;
use crate::units::Pressure;
use serde::Serialize;
use std::fmt::Write as _;
use unicode_width::UnicodeWidthStr;

/// A session's row as texts: what terminal and page share.
#[derive(Serialize)]
pub(super) struct Cells {
    date: String,
    judgement: String,
    /// The lowest reading, and of which cylinder in which condition.
    lowest: String,
    which: String,
    spread: String,
    pub(super) score: String,
    change: String,
    recording: String,
}

impl Cells {
    /// In the order of [`COLUMNS`].
    fn line(&self) -> [String; 7] {
        let lowest = if self.which.is_empty() {
            self.lowest.clone()
        } else {
            format!("{} ({})", self.lowest, self.which)
        };
        [
            self.date.clone(),
            self.judgement.clone(),
            lowest,
            self.spread.clone(),
            self.score.clone(),
            self.change.clone(),
            self.recording.clone(),
        ]
    }
}

pub(super) fn cells(session: &Session, units: Units) -> Cells {
    let none = || "–".to_owned();
    let (lowest, which) = session.worst.as_ref().map_or_else(
        || (none(), String::new()),
        |worst| {
            let value = worst.value.digits(units.main);
            let expanded = worst.expanded.show(units.main);
            let name = words::shorten(&worst.cylinder, 12);
            (
                format!("{value} ± {expanded}"),
                format!("{name}, {}", worst.condition.label()),
            )
        },
    );
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
    let not_whole = if session.damage.is_empty() {
        ""
    } else {
        " (NOT WHOLE)"
    };
    let corrected = if session.corrected.is_some() {
        " (corrected)"
    } else {
        ""
    };
    Cells {
        date: words::clean(&session.started).chars().take(10).collect(),
        judgement: format!(
            "{} {}",
            words::judgement_sign(session.judgement),
            words::judgement(session.judgement)
        ),
        lowest,
        which,
        spread,
        score,
        change: session.change.as_ref().map_or_else(none, changed),
        recording: words::clean(&session.file) + corrected + not_whole,
    }
}

fn changed(change: &Change) -> String {
    // As it is shown, so that nobody reads "5 ± 5" as a clear change.
    let clear = if change.score.abs().round() > change.expanded.round() {
        ""
    } else {
        " (no clear change)"
    };
    let size = format!("{:.0}", change.score.abs());
    let sign = match change.score {
        _ if size == "0" => "",
        score if score < 0.0 => "−",
        _ => "+",
    };
    format!("{sign}{size} ± {:.0}{clear}", change.expanded)
}

/// Names of a line's cells.
pub(super) const COLUMNS: [&str; 7] = [
    "date",
    "judgement",
    "lowest reading",
    "lowest/highest",
    "score",
    "since last",
    "recording",
];

/// How many recordings and engines there are, and how they were judged.
pub(super) fn counts(overview: &Overview) -> String {
    let sessions = overview.sessions.len();
    let engines = by_engine(overview).count();
    let judged = [
        Judgement::Fail,
        Judgement::Unconfirmed,
        Judgement::TooCloseToCall,
        Judgement::Incomplete,
        Judgement::Pass,
        Judgement::NotJudged,
    ];
    let judged = judged.into_iter().filter_map(|judgement| {
        let of = |session: &&Session| session.judgement == judgement;
        let count = overview.sessions.iter().filter(of).count();
        (count > 0).then(|| format!("{count} {}", words::judgement(judgement)))
    });
    let judged: Vec<String> = judged.collect();
    let many = |n: usize, what: &str| match n {
        1 => format!("1 {what}"),
        n => format!("{n} {what}s"),
    };
    format!(
        "{} of {}: {}",
        many(sessions, "recording"),
        many(engines, "engine"),
        judged.join(", ")
    )
}

/// The sessions of one engine after those of the other.
pub(super) fn by_engine(overview: &Overview) -> impl Iterator<Item = &[Session]> {
    overview.sessions.chunk_by(|a, b| a.engine == b.engine)
}

/// A distribution in words: what, and its five numbers.
pub(super) fn distributions(overview: &Overview, units: Units) -> Vec<(&'static str, String)> {
    let plain = |value: u64| value.to_string();
    let pressure = |value: u64| Pressure::from_pa(value as f64).digits(units.main);
    let words = |d: &Distribution, show: &dyn Fn(u64) -> String| {
        if d.min == d.max {
            return format!("{} throughout ({} in all)", show(d.min), d.count);
        }
        format!(
            "from {} to {}; a tenth up to {}, half up to {}, nine tenths up to {} ({} in all)",
            show(d.min),
            show(d.max),
            show(d.p10),
            show(d.p50),
            show(d.p90),
            d.count
        )
    };
    let mut said = Vec::new();
    if let Some(found) = &overview.plateaus_pa {
        said.push((
            "Readings",
            format!("in {}, {}", units.main, words(found, &pressure)),
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
    let rows = |sessions: &[Session]| -> Vec<[String; 7]> {
        sessions.iter().map(|s| cells(s, units).line()).collect()
    };
    let all = rows(&overview.sessions);
    let widths: Vec<usize> = (0..COLUMNS.len())
        .map(|n| {
            let cells = all.iter().filter_map(|row| row.get(n)).map(|c| c.width());
            let name = COLUMNS.get(n).map_or(0, |name| name.len());
            cells.chain([name]).max().unwrap_or(0).min(36)
        })
        .collect();
    let table = widths.iter().sum::<usize>() + 2 * widths.len() < width;
    let mut out = String::new();
    for line in first(overview) {
        let _ = writeln!(out, "{}\n", words::fill(&line, width));
    }
    if !overview.sessions.is_empty() {
        let _ = writeln!(out, "{}", words::fill(&counts(overview), width));
    }
    if table && !all.is_empty() {
        let _ = write!(out, "\n{}", row(&COLUMNS.map(str::to_owned), &widths));
    }
    for sessions in by_engine(overview) {
        let engine = sessions.first().map_or("", |session| &session.engine);
        let _ = writeln!(out, "\n{}", words::shorten(engine, width));
        for cells in rows(sessions) {
            if table {
                out.push_str(&row(&cells, &widths));
            } else {
                out.push_str(&list(&cells, width));
            }
        }
    }
    for (what, spread) in distributions(overview, units) {
        let line = format!("{what}: {spread}");
        let _ = write!(out, "\n{}", words::fill(&line, width));
    }
    out.push('\n');
    out
}

/// What must be said first: which recordings could not be read, or are not whole.
pub(super) fn first(overview: &Overview) -> Vec<String> {
    let failed = overview.failed.iter();
    let failed = failed.map(|failed| format!("not read: {}: {}", failed.file, failed.why));
    let damaged = overview.sessions.iter().flat_map(|session| {
        let said = session.damage.iter();
        said.map(|said| format!("{}: {said}", session.file))
    });
    failed
        .chain(damaged)
        .map(|line| words::clean(&line))
        .collect()
}

/// A line of the table.
fn row(cells: &[String; 7], widths: &[usize]) -> String {
    let mut line = String::from("  ");
    for (cell, wide) in cells.iter().zip(widths) {
        let cell = words::shorten(cell, *wide);
        let pad = wide - cell.width() + 2;
        let _ = write!(line, "{cell}{}", " ".repeat(pad));
    }
    line.trim_end().to_owned() + "\n"
}

/// For a narrow terminal: what is worth telling, one a line.
fn list(cells: &[String; 7], width: usize) -> String {
    let mut out = String::new();
    for (n, (name, cell)) in COLUMNS.iter().zip(cells).enumerate() {
        if cell == "–" {
            continue;
        }
        let line = match n {
            0 => format!("  {cell}"),
            _ => format!("    {name}: {cell}"),
        };
        out.push_str(&words::shorten(&line, width));
        out.push('\n');
    }
    out
}
