//! The overview's files: page, JSON, table.

use super::text::{COLUMNS, Cells, by_engine, cells, counts, distributions, first};
use super::{Distribution, Overview, Session};
use crate::report::page::{STYLE, environment, hash};
use crate::report::tables::Table;
use crate::report::view::Units;
use crate::report::{Output, PageError, words};
use minijinja::value::Serde;
use serde::Serialize;

#[derive(Serialize)]
struct Context {
    style: &'static str,
    style_hash: String,
    tool: &'static str,
    counts: String,
    columns: [&'static str; 7],
    engines: Vec<Engine>,
    spreads: Vec<Bars>,
    first: Vec<String>,
}

/// An engine's sessions.
#[derive(Serialize)]
struct Engine {
    name: String,
    rows: Vec<Row>,
}

#[derive(Serialize)]
struct Row {
    cells: Cells,
    judgement: &'static str,
    /// The score, to draw.
    score: Option<f64>,
    verdict: String,
}

#[derive(Serialize)]
struct Bars {
    what: &'static str,
    words: String,
    heights: Vec<(u64, u64)>,
}

/// The overview's files, in memory.
///
/// # Errors
/// Only by a fault of the program.
pub fn outputs(overview: &Overview, units: Units) -> Result<Vec<Output>, PageError> {
    let output = |name, bytes| Output { name, bytes };
    let json = serde_json::to_string_pretty(overview)? + "\n";
    Ok(vec![
        output("overview.html", page(overview, units)?.into_bytes()),
        output("overview.json", json.into_bytes()),
        output("overview.csv", csv(overview, units).into_bytes()),
    ])
}

fn page(overview: &Overview, units: Units) -> Result<String, PageError> {
    let row = |session: &Session| Row {
        cells: cells(session, units),
        judgement: words::judgement(session.judgement),
        score: session.score.map(|score| score.clamp(0.0, 100.0)),
        verdict: words::clean(&session.verdict),
    };
    let engines = by_engine(overview)
        .map(|sessions| Engine {
            name: sessions
                .first()
                .map_or_else(String::new, |s| s.engine.clone()),
            rows: sessions.iter().map(row).collect(),
        })
        .collect();
    let found = [
        &overview.plateaus_pa,
        &overview.strokes_to_settle,
        &overview.lost_per_10000,
    ];
    let spreads = found
        .into_iter()
        .flatten()
        .zip(distributions(overview, units))
        .map(|(of, (what, words))| Bars {
            what,
            words,
            heights: heights(of),
        })
        .collect();
    let context = Context {
        style: STYLE,
        style_hash: hash(STYLE),
        tool: overview.tool,
        counts: counts(overview),
        columns: COLUMNS,
        engines,
        spreads,
        first: first(overview),
    };
    let environment = environment()?;
    Ok(environment
        .get_template("overview.html")?
        .render(Serde(&context))?)
}

/// Each bar's count, and its height of 100.
fn heights(of: &Distribution) -> Vec<(u64, u64)> {
    let highest = of.bars.iter().max().copied().unwrap_or(0).max(1);
    of.bars
        .iter()
        .map(|bar| (*bar, bar * 100 / highest))
        .collect()
}

fn csv(overview: &Overview, units: Units) -> String {
    let mut table = Table::new(&[
        "recording",
        "engine",
        "started",
        "judgement",
        "cylinders",
        "lowest_cylinder",
        "lowest_condition",
        "lowest_pa",
        "lowest_expanded_pa",
        "lowest_over_highest",
        "lowest_over_highest_expanded",
        "score",
        "score_expanded",
        "score_change",
        "score_change_expanded",
        "sealed",
        "lowest_shown",
    ]);
    for session in &overview.sessions {
        let (worst, spread, change) = (&session.worst, &session.spread, &session.change);
        let some = |value: Option<f64>| value.map_or_else(String::new, |v| v.to_string());
        table.row(vec![
            words::clean(&session.file),
            session.engine.clone(),
            words::to_the_second(&session.started),
            words::judgement(session.judgement).to_owned(),
            session.cylinders.to_string(),
            worst
                .as_ref()
                .map_or_else(String::new, |w| words::clean(&w.cylinder)),
            worst
                .as_ref()
                .map_or_else(String::new, |w| w.condition.label().to_owned()),
            some(worst.as_ref().map(|w| w.value.pa())),
            some(worst.as_ref().map(|w| w.expanded.pa())),
            some(spread.as_ref().map(|s| s.share)),
            some(spread.as_ref().map(|s| s.expanded)),
            some(session.score),
            some(session.score_expanded),
            some(change.as_ref().map(|c| c.score)),
            some(change.as_ref().map(|c| c.expanded)),
            session.sealed.to_string(),
            worst
                .as_ref()
                .map_or_else(String::new, |w| w.value.show(units.main)),
        ]);
    }
    table.finish()
}
