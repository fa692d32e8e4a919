//! The table.

use super::case::Who;
use super::score::Score;
use hdrhistogram::Histogram;
use needlerest::signal::{Outcome, Rig};
use std::fmt::Write as _;

const HEAD: &str = "\
| who turns, rig | runs | STOP called | … or at rest | too soon (the eye) | still rises, median / 95th | after the eye, median / 95th | 95 % holds a repeat | half-width, median / 90th | let go while climbing: called | taken back |
| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |
";

/// All slices, as Markdown.
pub fn table(scores: &[&Score]) -> String {
    let mut text = String::from(HEAD);
    for who in Who::ALL {
        for rig in [Rig::Holding, Rig::Following] {
            for wet in [false, true] {
                let these: Vec<&Score> = scores
                    .iter()
                    .copied()
                    .filter(|s| s.who == who && s.rig == rig && s.wet == wet)
                    .collect();
                let valve = match rig {
                    Rig::Holding => "check valve",
                    Rig::Following => "no check valve",
                };
                let wet = if wet { ", wet" } else { "" };
                row(&mut text, &format!("{}, {valve}{wet}", who.label()), &these);
            }
        }
    }
    text
}

fn row(text: &mut String, label: &str, scores: &[&Score]) {
    if scores.is_empty() {
        return;
    }
    let n = scores.len();
    let count = |what: &dyn Fn(&Score) -> bool| scores.iter().filter(|s| what(s)).count();
    let called = count(&|s| s.called.is_some());
    let rests = count(&|s| s.called.is_some() || s.outcome == Outcome::AtRest);
    let eyes = count(&|s| s.eye_later.is_some());
    let eye_soon = count(&|s| {
        s.eye_later
            .is_some_and(|l| l > super::score::may_rise(s.who))
    });
    let rises = spread(scores.iter().filter_map(|s| s.later), 1e6);
    let late = spread(
        scores
            .iter()
            .filter_map(|s| s.late)
            .map(|l| l as f64 + 100.0),
        1.0,
    );
    let holds: Vec<bool> = scores.iter().flat_map(|s| s.holds.clone()).collect();
    let width = spread(scores.iter().filter_map(|s| s.width), 1e6);
    let climbing: u32 = scores.iter().map(|s| s.let_go.0).sum();
    let fooled: u32 = scores.iter().map(|s| s.let_go.1).sum();
    let _ = writeln!(
        text,
        "| {label} | {n} | {} | {} | {} ({}) | {:.1} / {:.1} % | {:.0} / {:.0} | {} | {:.1} / {:.1} % | {} of {climbing} | {} |",
        share(called, n),
        share(rests, n),
        share(count(&|s| s.too_soon()), called),
        share(eye_soon, eyes),
        100.0 * rises.0,
        100.0 * rises.1,
        late.0 - 100.0,
        late.1 - 100.0,
        share(holds.iter().filter(|h| **h).count(), holds.len()),
        100.0 * width.0,
        100.0 * spread_at(scores.iter().filter_map(|s| s.width), 1e6, 0.9),
        fooled,
        scores.iter().map(|s| s.withdrawn).sum::<u32>(),
    );
}

fn share(part: usize, whole: usize) -> String {
    if whole == 0 {
        return "–".to_owned();
    }
    format!("{:.1} %", 100.0 * part as f64 / whole as f64)
}

/// Median and 95th percentile.
fn spread(values: impl Iterator<Item = f64> + Clone, steps: f64) -> (f64, f64) {
    (
        spread_at(values.clone(), steps, 0.5),
        spread_at(values, steps, 0.95),
    )
}

fn spread_at(values: impl Iterator<Item = f64>, steps: f64, quantile: f64) -> f64 {
    let Ok(mut histogram) = Histogram::<u64>::new(3) else {
        return f64::NAN;
    };
    for value in values {
        // What falls (a needle of tops) does not rise.
        let _ = histogram.record((value.max(0.0) * steps) as u64);
    }
    if histogram.is_empty() {
        return f64::NAN;
    }
    histogram.value_at_quantile(quantile) as f64 / steps
}
