//! What stands in the PDF, in the page's order.

use super::flow::{Flow, Item, WIDTH};
use crate::assess;
use crate::engine::EngineKind;
use crate::engine::cautions::{FIRST, in_a_report};
use crate::pipeline::{Findings, Trace};
use crate::report::chart::{by_condition, by_cylinder, highest_of_all, trace_scene};
use crate::report::damage;
use crate::report::page::assessed::{Assessed, assessed};
use crate::report::page::by_hand::{beside_the_verdict, given};
use crate::report::page::causes::rules;
use crate::report::page::facts::{measured, seal};
use crate::report::remarks::explains;
use crate::report::view::{CylinderTable, Number, Units};
use crate::report::words;

const SIZE: f64 = 9.0;
/// Height of a heading with a row of plots.
const PLOTS: f64 = 270.0;

pub(super) fn pages(findings: &Findings, traces: &[Trace], units: Units) -> Vec<Vec<Item>> {
    let mut flow = Flow::new();
    let view = CylinderTable::new(findings, units);
    head(&mut flow, findings, &view);
    table(&mut flow, &view);
    sheet(&mut flow, findings, units);
    flow.page();
    computed(&mut flow, &assessed(findings, units), &view.unit);
    causes(&mut flow, findings, units);
    flow.heading_before("Build-up curves", PLOTS);
    flow.paragraph(
        "Pressure after each compression stroke. A ring marks the stroke at which the reading had \
         settled; a dashed line is computed, not measured.",
        SIZE,
        false,
        0.0,
    );
    let conditions = by_condition(findings, units, 480.0);
    let cylinders = by_cylinder(findings, units, 480.0);
    // Each chart once: of a single cylinder, or in a single condition, one kind shows all.
    let (single, alone) = (cylinders.len() == 1, conditions.len() == 1);
    if !single {
        flow.plots(conditions, 2);
    }
    if single || !alone {
        flow.plots(cylinders, 2);
    }
    flow.heading_before("Pressure over time", PLOTS);
    let highest = highest_of_all(findings, traces);
    let scenes = traces.iter().filter_map(|trace| {
        let run = findings.runs.get(trace.run).filter(|run| !run.void)?;
        Some(trace_scene(run, trace, highest, units.main))
    });
    flow.plots(scenes.collect(), 2);
    quality(&mut flow, findings, units);
    cautions(&mut flow, findings);
    how(&mut flow, findings, units);
    flow.pages
}

/// The end of the first page, which can be handed over alone: a chart, the cautions in a line, the
/// seal.
fn sheet(flow: &mut Flow, findings: &Findings, units: Units) {
    flow.gap(8.0);
    let plots = by_condition(findings, units, 760.0);
    flow.plots(plots.into_iter().take(1).collect(), 1);
    let kind = EngineKind::of(findings.card.as_ref());
    let about: Vec<&str> = in_a_report(&kind).iter().map(|c| c.about).collect();
    let line = format!(
        "Cautions for whoever repeats this. {FIRST} {}: further back, under \"Cautions\".",
        about.join("; ")
    );
    flow.paragraph(&line, SIZE, false, 0.0);
    flow.gap(4.0);
    let line = format!("Seal of the recording (SHA-256). {}", seal(findings));
    flow.paragraph(&line, SIZE, false, 0.0);
}

fn head(flow: &mut Flow, findings: &Findings, view: &CylinderTable) {
    for line in damage(&findings.recording) {
        flow.paragraph(&line, 11.0, true, 0.0);
    }
    flow.paragraph("Compression test", SIZE, false, 0.0);
    flow.paragraph(&view.label, 17.0, true, 0.0);
    let started = words::moment(&findings.recording.started);
    flow.paragraph(&format!("Recorded {started}"), SIZE, false, 0.0);
    flow.gap(8.0);
    let (word, sign) = view.judgement;
    flow.paragraph(&format!("{sign} {}", word.to_uppercase()), 13.0, true, 0.0);
    flow.paragraph(&view.verdict, 11.0, false, 0.0);
    if let Some(line) = beside_the_verdict(findings) {
        flow.paragraph(&line, SIZE, false, 0.0);
    }
    if let Some(score) = &view.score {
        let expanded = view.score_expanded.as_ref();
        let expanded = expanded.map_or_else(String::new, |e| format!(" ± {}", e.text));
        let line = format!("Score: {}{expanded}, {}", score.text, words::SCORE);
        flow.paragraph(&line, SIZE, false, 0.0);
    }
}

fn table(flow: &mut Flow, view: &CylinderTable) {
    flow.heading("Readings");
    let caption = format!(
        "Settled pressure in {} with expanded uncertainty (about 95 %), and share of the highest \
         cylinder in the same condition",
        view.unit
    );
    flow.paragraph(&caption, SIZE, false, 0.0);
    let columns = view.conditions.len() as f64;
    let (first, last) = (90.0, 175.0);
    let each = (WIDTH - first - last) / columns.max(1.0);
    let mut places = vec![0.0];
    places.extend((0..view.conditions.len()).map(|n| first + each * n as f64));
    places.extend([WIDTH - last, WIDTH - last + 55.0]);
    let one = |text: &str| vec![text.to_owned()];
    let mut names = vec![one("Cylinder")];
    names.extend(view.conditions.iter().map(|c| one(c)));
    names.extend([one("Score"), one("Likely cause")]);
    flow.row(&names, &places, SIZE, true);
    for row in &view.rows {
        let mut cells = vec![one(&words::shorten(&row.name, 60))];
        cells.extend(row.cells.iter().map(|cells| {
            cells
                .iter()
                .flat_map(|cell| cell.lines(&view.unit))
                .collect()
        }));
        cells.push(one(&row.score_text()));
        cells.push(one(&row.cause_text()));
        flow.row(&cells, &places, SIZE, false);
    }
    let mut cells = vec![one("Lowest over highest")];
    cells.extend(view.spreads.iter().map(|spread| {
        spread.as_ref().map_or_else(Vec::new, |s| {
            vec![
                format!("{} ± {} %", s.share.text, s.expanded.text),
                format!("{} {}", s.sign, s.judgement),
            ]
        })
    }));
    flow.row(&cells, &places, SIZE, false);
}

/// What was computed from the job card.
fn computed(flow: &mut Flow, found: &Assessed, unit: &str) {
    let mut say = |text: &str| flow.paragraph(text, SIZE, false, 0.0);
    if let Some(text) = &found.disagreement {
        say(text);
    }
    for e in &found.expected {
        let (low, high, likely) = (&e.low.text, &e.high.text, &e.likely.text);
        say(&format!(
            "A tight engine of this kind should read {low} to {high} {unit} {}, most likely {likely}. {}",
            e.condition, e.basis
        ));
    }
    if let Some(a) = &found.allowance {
        say(&format!(
            "Allow {} {} for repairs, on average. {}",
            a.expected.text, a.currency, a.text
        ));
        for (job, cost, probability) in &a.parts {
            let (cost, probability) = (&cost.text, &probability.text);
            say(&format!(
                "– {job}: {cost} {}, needed with {probability} % probability",
                a.currency
            ));
        }
    }
    for note in &found.notes {
        say(&format!("Taken for granted: {note}"));
    }
}

fn causes(flow: &mut Flow, findings: &Findings, units: Units) {
    let assessment = &findings.assessment;
    flow.heading("Likely causes");
    for cylinder in &assessment.cylinders {
        for cause in &cylinder.causes {
            let name = words::shorten(&cylinder.name, 40);
            let probability = Number::probability(cause.probability, String::new()).text;
            let line = format!(
                "Cylinder {name}: {}, {probability} %",
                words::cause(cause.kind)
            );
            flow.paragraph(&line, SIZE, true, 0.0);
            flow.paragraph(&words::clean(&cause.text), SIZE, false, 10.0);
            for (sign, list) in [
                ("For", &cause.evidence_for),
                ("Against", &cause.evidence_against),
            ] {
                for evidence in list {
                    flow.paragraph(
                        &format!("{sign}: {}", words::clean(&evidence.text)),
                        SIZE,
                        false,
                        10.0,
                    );
                }
            }
        }
    }
    let air = crate::report::air::air(findings, units);
    let lists = [
        ("What to do next", &assessment.next_steps),
        ("Tests with air", &air),
        ("What these runs cannot tell", &assessment.cannot_tell),
    ];
    for (title, list) in lists {
        if !list.is_empty() {
            flow.gap(5.0);
            flow.paragraph(title, 10.0, true, 0.0);
        }
        for line in list {
            flow.paragraph(&format!("– {}", words::clean(line)), SIZE, false, 0.0);
        }
    }
    flow.gap(5.0);
    flow.paragraph("Limits that decided", 10.0, true, 0.0);
    let rules = rules(findings);
    let (broken, others): (Vec<_>, Vec<_>) = rules.iter().partition(|rule| rule.weighs);
    for rule in &broken {
        let line = format!(
            "– {}: {} Source: {}",
            rule.judgement, rule.text, rule.source
        );
        flow.paragraph(&line, SIZE, false, 0.0);
    }
    if broken.is_empty() {
        flow.paragraph("Every limit that counts is kept.", SIZE, false, 0.0);
    }
    let line = format!(
        "Others that were applied: {}. They, the corrections and what each reading rests on stand \
         in {} beside this file.",
        others.len(),
        crate::report::page::PAGE
    );
    flow.paragraph(&line, SIZE, false, 0.0);
}

fn quality(flow: &mut Flow, findings: &Findings, units: Units) {
    flow.heading("Quality of the test");
    for run in &findings.runs {
        let result = &run.result;
        let name = words::shorten(&run.cylinder, 40);
        let test = if run.void {
            "void"
        } else {
            words::grade(result.grade)
        };
        let line = format!(
            "Cylinder {name}, {}: {test} test, {}, {}",
            run.condition.label(),
            words::outcome(result.outcome),
            words::many(result.count, "stroke")
        );
        flow.paragraph(&line, SIZE, false, 0.0);
        for flag in result.flags.iter().filter(|flag| explains(flag, findings)) {
            let advice = assess::flag(flag, units.main, &EngineKind::of(findings.card.as_ref()));
            flow.paragraph(
                &format!("{}. {}", advice.what, advice.advice),
                SIZE,
                false,
                10.0,
            );
        }
    }
}

fn cautions(flow: &mut Flow, findings: &Findings) {
    flow.heading("Cautions");
    flow.paragraph(FIRST, SIZE, true, 0.0);
    for caution in in_a_report(&EngineKind::of(findings.card.as_ref())) {
        flow.paragraph(
            &format!("– {}. {} ({})", caution.about, caution.text, caution.source),
            SIZE,
            false,
            0.0,
        );
    }
}

fn how(flow: &mut Flow, findings: &Findings, units: Units) {
    flow.heading("How it was measured");
    for fact in measured(findings, units) {
        flow.paragraph(&fact.line(), SIZE, false, 0.0);
    }
    for file in given(findings) {
        flow.paragraph(
            &format!("The {} that was set by hand:", file.what),
            SIZE,
            true,
            0.0,
        );
        for line in file.lines {
            flow.paragraph(&line, SIZE, false, 10.0);
        }
    }
    for note in &findings.recording.notes {
        flow.paragraph(&format!("Note: {}", words::clean(note)), SIZE, false, 0.0);
    }
    flow.paragraph(
        "To check: needlerest verify REPORT RECORDING makes it again and lists every byte that differs.",
        SIZE,
        false,
        0.0,
    );
}
