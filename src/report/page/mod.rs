//! The page: one self-contained HTML file. Every number on it says where in the findings it comes
//! from, and the findings are in it.

pub(super) mod assessed;
mod bars;
pub(super) mod by_hand;
pub(super) mod causes;
mod corrected;
mod fact;
pub(super) mod facts;
mod quality;

pub(super) use fact::Fact;

use super::carried::carried;
use super::chart::{by_condition, by_cylinder, highest_of_all, inline, trace_plot};
use super::damage::damage;
use super::view::{CylinderTable, Units};
use super::words;
use crate::engine::cautions::{FIRST, in_a_report};
use crate::engine::{Condition, EngineKind};
use crate::pipeline::{Findings, Trace};
use fact::cleaned;

use base64ct::{Base64, Encoding};
use minijinja::syntax::SyntaxConfig;
use minijinja::value::{Serde, Value};
use minijinja::{AutoEscape, Environment, escape_formatter};
use serde::Serialize;
use sha2::{Digest, Sha256};
use std::fmt::Write as _;

/// Name of the page in a report's folder.
pub const PAGE: &str = "index.html";

/// Points of all traces together: keeps the page of a four-cylinder session well below 1 MB.
const POINTS: usize = 48_000;
/// Width of a plot in pixels: legible on a phone, two beside each other on a desk.
const PLOT: f64 = 480.0;

const OVERVIEW: &str = include_str!("../overview/overview.html");
const TEMPLATE: &str = include_str!("page.html");
pub(super) const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = include_str!("page.js");

/// Why a page could not be made.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The template does not fit its data: a fault of the program.
    #[error("the page's template failed: {0}")]
    Template(#[from] minijinja::Error),
    /// A value cannot be written as JSON: a fault of the program.
    #[error("the findings cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

/// All that the template shows.
#[derive(Serialize)]
struct Context {
    view: CylinderTable,
    scale: Option<bars::Scale>,
    sheet: Sheet,
    has: Has,
    style: &'static str,
    style_hash: String,
    script: &'static str,
    script_hash: String,
    condition_plots: Vec<Plot>,
    cylinder_plots: Vec<Plot>,
    trace_plots: Vec<Plot>,
    assessed: assessed::Assessed,
    causes: Vec<causes::CylinderCauses>,
    rules: Vec<causes::RuleView>,
    air: Vec<String>,
    cannot_tell: Vec<String>,
    next_steps: Vec<String>,
    quality: Vec<quality::RunView>,
    measured: Vec<Fact>,
    damage: Vec<String>,
    set_by_hand: Option<String>,
    given: Vec<by_hand::Shown>,
    notes: Vec<String>,
    first_caution: &'static str,
    cautions: Vec<(&'static str, &'static str, &'static str)>,
    started: String,
    when: String,
    tool: String,
    findings: String,
    made: String,
}

/// What needs a word of explanation.
#[derive(Serialize)]
struct Has {
    wet: bool,
    at_least: bool,
}

impl Has {
    fn of(view: &CylinderTable) -> Self {
        let mut cells = view.rows.iter().flat_map(|row| row.cells.iter().flatten());
        Self {
            wet: view.conditions.contains(&Condition::Wet.label()),
            at_least: cells.any(|cell| cell.at_least),
        }
    }
}

/// What the first page on paper has beside engine, verdict and readings.
#[derive(Serialize)]
struct Sheet {
    /// The build-up in the first condition that was tested.
    plot: Option<String>,
    seal: String,
}

/// Width of the plot on the first page on paper: as wide as the page.
const SHEET: f64 = 760.0;

impl Sheet {
    fn of(findings: &Findings, units: Units) -> Self {
        let plots = by_condition(findings, units, SHEET);
        Self {
            plot: plots.first().map(|plot| inline(plot, "s")),
            seal: facts::seal(findings),
        }
    }
}

#[derive(Serialize)]
struct Plot {
    title: String,
    svg: String,
    length_ms: u64,
}

/// How the page was made, kept in it so that it can be made again.
#[derive(Clone, Debug, PartialEq, Serialize, serde::Deserialize)]
pub struct Made {
    /// Version of the program.
    pub tool: String,
    /// The units shown.
    pub units: Units,
}

/// The report as an HTML page: the same findings, traces and units give the same bytes.
///
/// # Errors
/// Only by a fault of the program.
pub fn page(findings: &Findings, traces: &[Trace], units: Units) -> Result<String, PageError> {
    let view = CylinderTable::new(findings, units);
    let made = Made {
        tool: findings.tool.clone(),
        units,
    };
    let plots = |scenes: Vec<super::chart::Scene>, id: &str| -> Vec<Plot> {
        let named = scenes.iter().enumerate();
        named
            .map(|(n, scene)| Plot {
                title: scene.title.clone(),
                svg: inline(scene, &format!("{id}{n}")),
                length_ms: 0,
            })
            .collect()
    };
    let context = Context {
        has: Has::of(&view),
        sheet: Sheet::of(findings, units),
        scale: bars::scale(findings, units),
        view,
        style: STYLE,
        style_hash: hash(STYLE),
        script: SCRIPT,
        script_hash: hash(SCRIPT),
        condition_plots: plots(by_condition(findings, units, PLOT), "c"),
        cylinder_plots: plots(by_cylinder(findings, units, PLOT), "z"),
        trace_plots: trace_plots(findings, traces, units),
        assessed: assessed::assessed(findings, units),
        causes: causes::causes(findings),
        rules: causes::rules(findings),
        air: cleaned(&super::air::air(findings, units)),
        cannot_tell: cleaned(&findings.assessment.cannot_tell),
        next_steps: cleaned(&findings.assessment.next_steps),
        quality: quality::quality(findings, units),
        measured: facts::measured(findings, units),
        damage: damage(&findings.recording),
        set_by_hand: by_hand::beside_the_verdict(findings),
        given: by_hand::given(findings),
        notes: cleaned(&findings.recording.notes),
        first_caution: FIRST,
        cautions: in_a_report(&EngineKind::of(findings.card.as_ref()))
            .into_iter()
            .map(|c| (c.about, c.text, c.source))
            .collect(),
        started: words::to_the_second(&findings.recording.started),
        when: words::moment(&findings.recording.started),
        tool: words::clean(&findings.tool),
        findings: embedded(&carried(findings)?),
        made: embedded(&serde_json::to_string(&made)?),
    };
    Ok(environment()?
        .get_template("page.html")?
        .render(Serde(&context))?)
}

pub(super) fn environment() -> Result<Environment<'static>, minijinja::Error> {
    let mut environment = Environment::new();
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.set_undefined_behavior(minijinja::UndefinedBehavior::Strict);
    let syntax = SyntaxConfig::builder()
        .trim_blocks(true)
        .lstrip_blocks(true)
        .build()?;
    environment.set_syntax(syntax);
    environment.add_filter("exact", exact);
    environment.set_formatter(|out, state, value| match value.as_str() {
        Some(text) if !value.is_safe() => {
            escape_formatter(out, state, &Value::from(words::bind(text)))
        }
        _ => escape_formatter(out, state, value),
    });
    environment.add_template("page.html", TEMPLATE)?;
    environment.add_template("overview.html", OVERVIEW)?;
    Ok(environment)
}

/// The value in the digits that JSON gives it.
fn exact(value: f64) -> String {
    serde_json::to_string(&value).unwrap_or_default()
}

/// JSON that cannot end the script element it stands in, nor turn the direction of its text.
pub(in crate::report) fn embedded(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if c == '<' || words::steers(c) {
            // All of them lie below U+10000, so that one escape does.
            let _ = write!(out, "\\u{:04x}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    out
}

/// A script's or a style sheet's hash as a page's content security policy wants it: no other one
/// will be used.
pub(in crate::report) fn hash(text: &str) -> String {
    format!(
        "sha256-{}",
        Base64::encode_string(&Sha256::digest(text.as_bytes()))
    )
}

fn trace_plots(findings: &Findings, traces: &[Trace], units: Units) -> Vec<Plot> {
    let most = (POINTS / traces.len().max(1)).clamp(400, 4096);
    let highest = highest_of_all(findings, traces);
    traces
        .iter()
        .filter_map(|trace| {
            let run = findings.runs.get(trace.run).filter(|run| !run.void)?;
            if trace.points.is_empty() {
                return None;
            }
            let plot = trace_plot(
                run,
                trace,
                (highest, units.main),
                most,
                &format!("p{}", trace.run),
            );
            let mut title = format!("Cylinder {}", words::shorten(&run.cylinder, 40));
            let _ = write!(title, ", {}", run.condition.label());
            Some(Plot {
                title,
                svg: plot.svg,
                length_ms: plot.length_ms,
            })
        })
        .collect()
}
