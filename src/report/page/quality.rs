//! The page's part on the quality of the test: one line a run, and what each number rests on.

use super::fact::Fact;
use crate::assess;
use crate::engine::EngineKind;
use crate::pipeline::{Findings, Run};
use crate::report::remarks::explains;
use crate::report::view::{Number, Units};
use crate::report::words;
use serde::Serialize;

/// How a run went.
#[derive(Serialize)]
pub(super) struct RunView {
    cylinder: String,
    condition: &'static str,
    void: bool,
    grade: &'static str,
    outcome: &'static str,
    strokes: usize,
    settled_at: Option<Number>,
    strokes_a_minute: Option<Number>,
    flags: Vec<(String, &'static str)>,
    facts: Vec<Fact>,
    budget: Vec<(String, Number, bool)>,
    unit: String,
}

pub(super) fn quality(findings: &Findings, units: Units) -> Vec<RunView> {
    let kind = EngineKind::of(findings.card.as_ref());
    let runs = 0..findings.runs.len();
    runs.filter_map(|n| view(findings, n, units, &kind))
        .collect()
}

fn view(findings: &Findings, n: usize, units: Units, kind: &EngineKind) -> Option<RunView> {
    let (run, at) = (findings.runs.get(n)?, &format!("/runs/{n}/result"));
    let result = &run.result;
    let reading = result.reading.as_ref();
    let settled_at = result
        .call
        .map(|call| Number::plain(f64::from(call.count), 0, format!("{at}/call/count")));
    let strokes_a_minute = result.cadence.map(|cadence| Number {
        text: format!("{:.0}", cadence.median.per_min()),
        value: cadence.median.hz(),
        from: format!("{at}/cadence/median_hz"),
    });
    let said = result.flags.iter().filter(|flag| explains(flag, findings));
    let flags = said.map(|flag| {
        let advice = assess::flag(flag, units.main, kind);
        (advice.what, advice.advice)
    });
    let budget = reading
        .map_or(&[][..], |r| &r.budget)
        .iter()
        .enumerate()
        .map(|(n, part)| {
            let from = format!("{at}/reading/budget/{n}/standard_pa");
            let number = Number::pressure_fine(part.standard, units.main, from);
            (words::clean(&part.source), number, part.common)
        });
    Some(RunView {
        cylinder: words::clean(&run.cylinder),
        condition: run.condition.label(),
        void: run.void,
        grade: words::grade(result.grade),
        outcome: words::outcome(result.outcome),
        strokes: result.count as usize,
        settled_at,
        strokes_a_minute,
        flags: flags.collect(),
        facts: facts(run, at, units),
        budget: budget.collect(),
        unit: units.main.to_string(),
    })
}

fn facts(run: &Run, at: &str, units: Units) -> Vec<Fact> {
    let (result, unit) = (&run.result, units.main);
    let measured = if result.zero.measured {
        " (measured, subtracted)"
    } else {
        " (assumed)"
    };
    let mut facts = vec![
        Fact::text("Rig", words::rig(result.rig)),
        Fact::number(
            "Zero",
            Number::pressure_fine(result.zero.level, unit, format!("{at}/zero/level_pa")),
            format!("{unit}{measured}"),
        ),
        Fact::number(
            "Noise",
            Number::pressure_fine(result.noise, unit, format!("{at}/noise_pa")),
            format!("{unit} (standard deviation at rest)"),
        ),
    ];
    if let Some(fit) = result.build_up {
        let share = |value, name: &str| Number::percent(value, format!("{at}/build_up/{name}"));
        facts.push(Fact::number(
            "First stroke",
            share(fit.first_share, "first_share"),
            "% of the plateau",
        ));
        facts.push(Fact::number(
            "Left to climb after a stroke",
            share(fit.ratio, "ratio"),
            "% of what was left before it",
        ));
    }
    if let Some(cadence) = result.cadence {
        let uneven = Number::percent(cadence.unevenness, format!("{at}/cadence/unevenness"));
        facts.push(Fact::number("Unevenness of cranking", uneven, "%"));
    }
    if let Some(droop) = result.droop {
        let fall =
            Number::pressure_fine(droop.per_second, unit, format!("{at}/droop/per_second_pa"));
        facts.push(Fact::number(
            "Fall while held",
            fall,
            format!("{unit} a second"),
        ));
    }
    if let Some(heading) = result.reading.as_ref().and_then(|r| r.heading) {
        let heading = Number::pressure_fine(heading, unit, format!("{at}/reading/heading_pa"));
        facts.push(Fact::number("Was heading for", heading, unit.to_string()));
    }
    facts
}
