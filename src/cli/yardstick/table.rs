//! The table of a yardstick run.

use super::corpus::{Fault, RATES, Starter};
use super::score::{Refusal, Score};
use crate::signal::{Outcome, Rig};
use hdrhistogram::Histogram;
use std::fmt::Write as _;

/// A line of the table: the runs of one slice.
struct Line {
    label: String,
    runs: usize,
    settled: usize,
    /// For the sensor's sake, and how many of these needlessly.
    refused: [usize; 2],
    /// As too uneven, and how many of these needlessly.
    uneven: [usize; 2],
    false_calls: usize,
    missed: usize,
    withdrawn: usize,
    beyond: Option<(i64, i64)>,
    /// Median, 95th percentile and worst error of settled readings, % of the plateau.
    error: Option<[f64; 3]>,
    covered: Option<f64>,
    covered_extrapolated: Option<f64>,
    precision: f64,
    recall: f64,
    rig_right: f64,
}

/// Strokes beyond the oracle can be negative; a histogram holds counts from 0 on.
const SHIFT: i64 = 100;

fn line(label: &str, scores: &[&Score]) -> Option<Line> {
    if scores.is_empty() {
        return None;
    }
    let count = |what: &dyn Fn(&Score) -> bool| scores.iter().filter(|score| what(score)).count();
    let share = |part: u32, whole: u32| {
        if whole == 0 {
            1.0
        } else {
            f64::from(part) / f64::from(whole)
        }
    };
    let sum = |what: &dyn Fn(&Score) -> u32| scores.iter().map(|score| what(score)).sum::<u32>();
    let hits = sum(&|s| s.hits);
    let refused = |why: Refusal| {
        [false, true]
            .map(|needless| count(&|s| s.refused == Some(why) && (s.needless || !needless)))
    };
    Some(Line {
        label: label.to_owned(),
        runs: scores.len(),
        settled: count(&|s| s.outcome == Outcome::Settled),
        refused: refused(Refusal::Sensor),
        uneven: refused(Refusal::Uneven),
        false_calls: count(&Score::false_call),
        missed: count(&Score::missed_call),
        withdrawn: count(&|s| s.withdrawn > 0),
        beyond: beyond(scores),
        error: errors(scores),
        covered: coverage(scores, Outcome::Settled),
        covered_extrapolated: coverage(scores, Outcome::Extrapolated),
        precision: share(hits, hits + sum(&|s| s.phantoms)),
        recall: share(hits, hits + sum(&|s| s.overlooked)),
        rig_right: count(&|s| s.rig_found == Some(s.rig)) as f64 / scores.len() as f64,
    })
}

fn beyond(scores: &[&Score]) -> Option<(i64, i64)> {
    let mut histogram = Histogram::<u64>::new(3).ok()?;
    for beyond in scores.iter().filter_map(|score| score.beyond()) {
        let value = u64::try_from(beyond + SHIFT).ok()?;
        histogram.record(value).ok()?;
    }
    if histogram.is_empty() {
        return None;
    }
    let at = |quantile: f64| histogram.value_at_quantile(quantile).cast_signed() - SHIFT;
    Some((at(0.5), at(0.95)))
}

fn errors(scores: &[&Score]) -> Option<[f64; 3]> {
    // In millionths of the plateau.
    let mut histogram = Histogram::<u64>::new(3).ok()?;
    for score in scores
        .iter()
        .filter(|score| score.outcome == Outcome::Settled)
    {
        if let Some(error) = score.error_pa {
            histogram
                .record((error.abs() / score.plateau_pa * 1e6) as u64)
                .ok()?;
        }
    }
    if histogram.is_empty() {
        return None;
    }
    let at = |quantile: f64| histogram.value_at_quantile(quantile) as f64 / 1e4;
    Some([at(0.5), at(0.95), at(1.0)])
}

fn coverage(scores: &[&Score], outcome: Outcome) -> Option<f64> {
    let covered: Vec<bool> = scores
        .iter()
        .filter(|score| score.outcome == outcome)
        .filter_map(|score| score.covered())
        .collect();
    if covered.is_empty() {
        return None;
    }
    Some(covered.iter().filter(|yes| **yes).count() as f64 / covered.len() as f64)
}

/// The whole table, as Markdown.
pub(super) fn table(scores: &[Score]) -> String {
    let mut text = String::from(HEAD);
    let all: Vec<&Score> = scores.iter().collect();
    let slice = |what: &dyn Fn(&Score) -> bool| -> Vec<&Score> {
        all.iter().copied().filter(|score| what(score)).collect()
    };
    let mut lines = vec![line("all", &all)];
    for (rig, name) in [(Rig::Holding, "holding"), (Rig::Following, "following")] {
        lines.push(line(&format!("rig: {name}"), &slice(&|s| s.rig == rig)));
        for starter in Starter::ALL {
            let label = format!("{name}, {}", starter.label());
            lines.push(line(
                &label,
                &slice(&|s| s.rig == rig && s.starter == starter),
            ));
        }
        for rate in RATES {
            let label = format!("{name}, {rate} Hz");
            lines.push(line(&label, &slice(&|s| s.rig == rig && s.rate_hz == rate)));
        }
    }
    for fault in Fault::ALL {
        let label = format!("fault: {}", fault.label());
        lines.push(line(&label, &slice(&|s| s.fault == fault)));
    }
    for line in lines.into_iter().flatten() {
        row(&mut text, &line);
    }
    text
}

/// What the slices do not show, as sentences.
pub(super) fn summary(scores: &[Score]) -> String {
    let fast = |s: &&Score| s.rate_hz >= 50.0 && !s.out_of_range;
    let mut text = String::new();
    for (label, rig) in [
        ("both rigs", None),
        ("holding", Some(Rig::Holding)),
        ("following", Some(Rig::Following)),
    ] {
        let (mut hits, mut phantoms, mut overlooked) = (0_u32, 0_u32, 0_u32);
        for s in scores
            .iter()
            .filter(fast)
            .filter(|s| rig.is_none_or(|rig| s.rig == rig))
        {
            hits += s.hits;
            phantoms += s.phantoms;
            overlooked += s.overlooked;
        }
        let share = |others: u32| f64::from(hits) / f64::from((hits + others).max(1));
        let _ = writeln!(
            text,
            "Strokes at 50 Hz and more, range wide enough, {label}: precision {:.4}, recall {:.4} ({hits} found, {phantoms} not made, {overlooked} overlooked).",
            share(phantoms),
            share(overlooked),
        );
    }
    let steady = scores
        .iter()
        .filter(|s| s.steady_error_pa > s.tolerance_pa)
        .count();
    let _ = writeln!(
        text,
        "False calls if held against cranking on without variation: {steady} ({:.2} %).",
        100.0 * steady as f64 / scores.len().max(1) as f64
    );
    text
}

const HEAD: &str = "\
| slice | runs | settled | refused: sensor (needless) | refused: uneven (needless) | false calls | missed calls | withdrawn | strokes beyond oracle, median / 95th | error of settled readings, median / 95th / worst | 95 % covers, settled | 95 % covers, extrapolated | stroke precision | stroke recall | rig right |
|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|
";

fn row(text: &mut String, line: &Line) {
    let none = || "–".to_owned();
    let percent = |share: f64| format!("{:.1} %", 100.0 * share);
    // Writing to a String cannot fail.
    let _ = writeln!(
        text,
        "| {} | {} | {} | {} ({}) | {} ({}) | {} ({:.2} %) | {} | {} | {} | {} | {} | {} | {:.4} | {:.4} | {} |",
        line.label,
        line.runs,
        line.settled,
        line.refused[0],
        line.refused[1],
        line.uneven[0],
        line.uneven[1],
        line.false_calls,
        100.0 * line.false_calls as f64 / line.runs as f64,
        line.missed,
        line.withdrawn,
        line.beyond.map_or_else(none, |(m, h)| format!("{m} / {h}")),
        line.error
            .map_or_else(none, |[m, h, w]| format!("{m:.2} % / {h:.2} % / {w:.1} %")),
        line.covered.map_or_else(none, percent),
        line.covered_extrapolated.map_or_else(none, percent),
        line.precision,
        line.recall,
        percent(line.rig_right),
    );
}
