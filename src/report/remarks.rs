//! What is to be said of how the runs were made: one remark a kind, not one a run.

use super::view::Units;
use super::words;
use crate::assess;
use crate::engine::{Condition, EngineKind};
use crate::pipeline::{Findings, Run};
use crate::signal::Flag;
use std::mem::discriminant;

/// Names are shortened to so many columns.
const NAME: usize = 30;

/// Every remark, in the order of the runs.
pub(super) fn remarks(findings: &Findings, units: Units) -> Vec<String> {
    let kind = EngineKind::of(findings.card.as_ref());
    let counted: Vec<&Run> = findings.runs.iter().filter(|run| !run.void).collect();
    let taken_back = findings.runs.iter().filter(|run| run.void).map(taken_back);
    let mut said: Vec<String> = taken_back.collect();
    let mut kinds: Vec<(&Flag, Vec<&Run>)> = Vec::new();
    for run in &counted {
        for flag in &run.result.flags {
            match kinds
                .iter_mut()
                .find(|(known, _)| discriminant(*known) == discriminant(flag))
            {
                Some((_, runs)) => runs.push(run),
                None => kinds.push((flag, vec![run])),
            }
        }
    }
    for (flag, runs) in kinds {
        if !explains(flag, findings) {
            continue;
        }
        let advice = assess::flag(flag, units.main, &kind);
        let who = who(&runs, counted.len());
        let what = match flag {
            Flag::NoStrokes => format!("no reading, {}", advice.what),
            _ if runs.len() > 1 => format!("{} (the first of them)", advice.what),
            _ => advice.what,
        };
        said.push(format!("{who}: {what}. {}", advice.advice));
    }
    said
}

/// One cylinder that reads very low beside others that do not was not read with the throttle shut:
/// it is worth saying where all of one condition read so.
pub(super) fn explains(flag: &Flag, findings: &Findings) -> bool {
    let shut = |flag: &Flag| matches!(flag, Flag::ThrottleMayBeShut { .. });
    let counted = || findings.runs.iter().filter(|run| !run.void);
    !shut(flag)
        || Condition::ALL.into_iter().any(|condition| {
            let mut alike = counted()
                .filter(|run| run.condition == condition)
                .peekable();
            alike.peek().is_some() && alike.all(|run| run.result.flags.iter().any(shut))
        })
}

/// "All 6 runs", "2 and 3 cold", "1 cold and 2 wet".
fn who(runs: &[&Run], of: usize) -> String {
    if runs.len() == of && of > 2 {
        return format!("All {of} runs");
    }
    let parts: Vec<String> = Condition::ALL
        .into_iter()
        .filter_map(|condition| {
            let names: Vec<String> = runs
                .iter()
                .filter(|run| run.condition == condition)
                .map(|run| words::shorten(&run.cylinder, NAME))
                .collect();
            let (last, rest) = names.split_last()?;
            let names = if rest.is_empty() {
                last.clone()
            } else {
                format!("{} and {last}", rest.join(", "))
            };
            Some(format!("{names}, {}", condition.label()))
        })
        .collect();
    parts.join("; ")
}

/// A run that does not count, and why.
fn taken_back(run: &Run) -> String {
    let name = words::shorten(&run.cylinder, NAME);
    let reason = run.void_reason.as_deref().unwrap_or("no reason was noted");
    let condition = run.condition.label();
    format!("{name}, {condition}: a run was taken back and does not count ({reason}).")
}
