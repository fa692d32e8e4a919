//! Fits the model of the causes, and how far the leak area is off.

use super::measure::Seen;
use super::tally::{leak_of, leaks_that_count};
use crate::assess::causes::{CauseModel, Example, fit as fit_model};
use crate::assess::{RuleSet, assess_with, observe};
use crate::cli::{Exit, Failure};
use crate::engine::JobCard;
use rayon::prelude::*;

/// Of this many visits one is also seen with a card that only names the engine, one without
/// cadence, and two as if the reading had been bled at once, so that nobody saw it hold: what was
/// not observed has to be met in fitting, with every cause.
const THIN_EVERY: usize = 5;
/// Share of true leaks that the stated interval (k = 2) is to hold.
const COVERED: f64 = 0.95;

/// The fitted model as TOML.
pub(super) fn fit(seen: &[Result<Seen, String>], command: &str) -> Result<String, Failure> {
    let rules = RuleSet::default();
    let visits: Vec<&Seen> = seen.iter().flatten().collect();
    let examples: Vec<Example> = visits
        .par_iter()
        .enumerate()
        .flat_map_iter(|(visit, seen)| {
            views(visit, seen)
                .into_iter()
                .flat_map(|seen| examples(visit, &seen, &rules))
                .collect::<Vec<_>>()
        })
        .collect();
    let mut model = fit_model(&examples, command);
    model.leak_doubt = leak_doubt(&visits, &rules);
    model.grown_from = format!(
        "{} views of cylinders in {} simulated visits",
        examples.len(),
        visits.len()
    );
    let text = serde_json::to_string(&model).map_err(|error| Failure::new(Exit::Failed, error))?;
    // A tree a line.
    Ok(text.replace("},{", "},\n{") + "\n")
}

/// The visit as it was, and for some also with less known.
fn views(visit: usize, seen: &Seen) -> Vec<Seen> {
    let mut views = vec![seen.clone()];
    match visit % THIN_EVERY {
        0 => {
            let mut thin = seen.clone();
            make_thin(&mut thin.card);
            views.push(thin);
        }
        1 => {
            let mut without = seen.clone();
            for read in &mut without.reads {
                read.result.cadence = None;
            }
            views.push(without);
        }
        2 | 3 => {
            let mut bled = seen.clone();
            for read in &mut bled.reads {
                read.result.droop = None;
            }
            views.push(bled);
        }
        _ => {}
    }
    views
}

/// Leaves nothing on a card but the engine's kind and its cylinders.
fn make_thin(card: &mut JobCard) {
    card.engine.bore_mm = None;
    card.engine.stroke_mm = None;
    card.engine.compression_ratio = None;
}

fn examples(visit: usize, seen: &Seen, rules: &RuleSet) -> Vec<Example> {
    observe(Some(&seen.card), &seen.inputs(), rules)
        .into_iter()
        .filter_map(|signs| {
            let known = seen.known.iter().find(|k| k.truth.name == signs.cylinder)?;
            Some(Example {
                visit,
                cause: known.truth.cause,
                permitted: signs.permitted,
                observed: signs.observed,
            })
        })
        .collect()
}

/// The relative doubt at which as many true leaks as wanted lie within the stated interval.
fn leak_doubt(visits: &[&Seen], rules: &RuleSet) -> f64 {
    let bare = CauseModel {
        leak_doubt: 0.0,
        ..CauseModel::default()
    };
    let mut needed: Vec<f64> = visits
        .par_iter()
        .flat_map_iter(|seen| {
            let assessment = assess_with(Some(&seen.card), &seen.inputs(), rules, &bare);
            leaks_that_count(seen)
                .filter_map(|known| {
                    let leak = leak_of(&assessment, &known.truth.name)?;
                    let error = leak.mm2 - known.truth.leak_mm2;
                    let stated = leak.expanded_mm2 / 2.0;
                    let beyond = error * error / 4.0 - stated * stated;
                    Some(libm::sqrt(beyond.max(0.0)) / leak.mm2.max(1e-6))
                })
                .collect::<Vec<_>>()
        })
        .collect();
    needed.sort_by(f64::total_cmp);
    let at = (needed.len() as f64 * COVERED) as usize;
    let doubt = needed.get(at).or(needed.last()).copied().unwrap_or(0.0);
    (doubt * 1e3).ceil() / 1e3
}
