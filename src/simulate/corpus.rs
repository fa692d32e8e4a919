//! A corpus: many drawn visits, and its summary.

use super::SimulateError;
use super::draw::{Drawn, draw};
use super::random::Draws;
use super::recipe::Recipe;
use super::run::run;
use super::truth::RunTruth;
use crate::units::PressureUnit;
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// Where the visits of a corpus come from.
#[derive(Clone, Debug)]
pub enum Origin {
    /// Drawn from the documented distribution.
    Drawn,
    /// One recipe, made again with other seeds.
    Recipe(Box<Recipe>),
}

/// One visit of a corpus.
#[derive(Clone, Debug)]
pub struct CorpusVisit {
    /// Its kind, for the summary: the fault of a drawn visit, or `recipe`.
    pub kind: String,
    /// The recipe.
    pub recipe: Recipe,
    /// What was drawn.
    pub drawn: Option<Drawn>,
}

/// Visit `index` of a corpus; the same whatever else is made and on however many threads.
pub fn visit(origin: &Origin, seed: u64, index: u64) -> CorpusVisit {
    match origin {
        Origin::Drawn => {
            let drawn = draw(seed, index);
            CorpusVisit {
                kind: drawn.fault.label().to_owned(),
                recipe: drawn.recipe.clone(),
                drawn: Some(drawn),
            }
        }
        Origin::Recipe(recipe) => {
            let mut recipe = Recipe::clone(recipe);
            recipe.seed = Draws::new(seed, index).seed();
            CorpusVisit {
                kind: "recipe".to_owned(),
                recipe,
                drawn: None,
            }
        }
    }
}

/// Simulates all runs of a visit, without packets.
///
/// # Errors
/// As [`run`].
pub fn visit_truths(visit: &CorpusVisit) -> Result<Vec<RunTruth>, SimulateError> {
    let runs = visit.recipe.run_specs();
    runs.iter().map(|spec| Ok(run(spec)?.truth)).collect()
}

/// Sums of a kind of visit.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    runs: u64,
    strokes: u64,
    reached: u64,
    oracle: u64,
    plateau: f64,
    shown_share: f64,
    seconds: f64,
}

/// What a corpus holds.
#[derive(Clone, Debug, Default)]
pub struct CorpusSummary {
    kinds: BTreeMap<String, Sums>,
    stalled: u64,
}

impl CorpusSummary {
    /// Counts in the runs of a visit.
    pub fn add(&mut self, kind: &str, truths: &[RunTruth]) {
        let sums = self.kinds.entry(kind.to_owned()).or_default();
        for truth in truths {
            sums.runs += 1;
            sums.strokes += truth.strokes.len() as u64;
            if let Some(oracle) = truth.oracle_stroke {
                sums.reached += 1;
                sums.oracle += u64::from(oracle);
            }
            sums.plateau += truth.plateau.to(PressureUnit::Psi);
            sums.shown_share += truth.plateau / truth.perfect_gauge;
            sums.seconds += truth.ends.s() - truth.begins.s();
        }
    }

    /// Counts in a visit whose engine did not turn over.
    pub fn add_stalled(&mut self) {
        self.stalled += 1;
    }

    /// Runs counted.
    pub fn runs(&self) -> u64 {
        self.kinds.values().map(|sums| sums.runs).sum()
    }

    /// Simulated time in s.
    pub fn seconds(&self) -> f64 {
        self.kinds.values().map(|sums| sums.seconds).sum()
    }

    /// As a table.
    pub fn table(&self) -> String {
        let mut text = format!(
            "{:<14}{:>7}{:>12}{:>14}{:>16}{:>15}{:>17}\n",
            "kind",
            "runs",
            "strokes/run",
            "came within",
            "oracle stroke",
            "plateau, psi",
            "of perfect gauge"
        );
        for (kind, s) in &self.kinds {
            let n = s.runs.max(1) as f64;
            // Writing to a String cannot fail.
            let _ = writeln!(
                text,
                "{kind:<14}{:>7}{:>12.1}{:>13.1}%{:>16.1}{:>15.1}{:>16.1}%",
                s.runs,
                s.strokes as f64 / n,
                100.0 * s.reached as f64 / n,
                s.oracle as f64 / s.reached.max(1) as f64,
                s.plateau / n,
                100.0 * s.shown_share / n,
            );
        }
        let _ = writeln!(
            text,
            "{} runs, {:.0} s simulated, {} visits left out because the engine would not turn over",
            self.runs(),
            self.seconds(),
            self.stalled
        );
        text
    }
}
