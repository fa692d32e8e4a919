//! Which runs are to be made, in which order, and why.

use crate::assess::{Assessment, Judgement};
use crate::engine::Condition;
use std::collections::VecDeque;

/// What the name of a run begins with that nobody has named.
pub const UNNAMED: &str = "run ";

/// A run that is to be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Planned {
    /// Name of the cylinder, or `run 3` while it has none.
    pub cylinder: String,
    /// The name is the user's or the card's.
    pub named: bool,
    /// The engine's condition.
    pub condition: Condition,
    /// Why it is made, in plain words; none for a round over all cylinders.
    pub why: Option<String>,
    /// The run (by its index in the findings) that it takes the place of.
    pub instead_of: Option<usize>,
}

/// `cylinder 2`; a run that nobody has named is called as it is.
pub fn place(cylinder: &str) -> String {
    if cylinder.starts_with(UNNAMED) {
        cylinder.to_owned()
    } else {
        format!("cylinder {cylinder}")
    }
}

/// What is still to be made. Without cylinders, one unnamed run follows another.
#[derive(Clone, Debug)]
pub(super) struct Plan {
    cylinders: Vec<String>,
    queue: VecDeque<Planned>,
    /// Condition of the round that is being made.
    round: Condition,
    unnamed: usize,
}

impl Plan {
    /// A dry round over all cylinders.
    pub(super) fn new(cylinders: Vec<String>, round: Condition) -> Self {
        let mut plan = Self {
            cylinders,
            queue: VecDeque::new(),
            round,
            unnamed: 0,
        };
        plan.add_round(round);
        plan
    }

    /// Whether the cylinders are known beforehand.
    pub(super) fn has_cylinders(&self) -> bool {
        !self.cylinders.is_empty()
    }

    /// Whether a cylinder can be called so.
    pub(super) fn knows(&self, name: &str) -> bool {
        self.cylinders.is_empty() || self.cylinders.iter().any(|known| known == name)
    }

    /// Condition of the latest round.
    pub(super) fn round(&self) -> Condition {
        self.round
    }

    /// The runs still to be made, in order.
    pub(super) fn queue(&self) -> impl Iterator<Item = &Planned> {
        self.queue.iter()
    }

    /// Takes the next run, if there is one.
    pub(super) fn next(&mut self) -> Option<Planned> {
        if let Some(planned) = self.queue.pop_front() {
            return Some(planned);
        }
        if self.has_cylinders() {
            return None;
        }
        self.unnamed += 1;
        Some(Planned {
            cylinder: format!("{UNNAMED}{}", self.unnamed),
            named: false,
            condition: self.round,
            why: None,
            instead_of: None,
        })
    }

    /// A round over all cylinders, after what is already planned.
    pub(super) fn add_round(&mut self, condition: Condition) {
        self.round = condition;
        for cylinder in self.cylinders.clone() {
            self.add(Planned {
                cylinder,
                named: true,
                condition,
                why: None,
                instead_of: None,
            });
        }
    }

    /// A run after what is already planned, unless the same one is planned already.
    pub(super) fn add(&mut self, run: Planned) {
        let same = |p: &Planned| p.cylinder == run.cylinder && p.condition == run.condition;
        if !self.queue.iter().any(same) {
            self.queue.push_back(run);
        }
    }

    /// A run before everything else.
    pub(super) fn add_first(&mut self, run: Planned) {
        self.queue.push_front(run);
    }

    /// Puts back a run that was taken but not begun.
    pub(super) fn put_back(&mut self, run: Planned) {
        self.queue.push_front(run);
    }

    /// Leaves out what has been made in an earlier part of the session.
    pub(super) fn made_before(&mut self, cylinder: &str, condition: Condition) {
        self.queue
            .retain(|p| !(p.cylinder == cylinder && p.condition == condition));
    }

    /// Numbers of unnamed runs go on after this many.
    pub(super) fn unnamed_before(&mut self, runs: usize) {
        self.unnamed = runs;
    }
}

/// The cylinders that are low or uneven in a dry round, each with why: those worth a wet run.
pub(super) fn worth_oil(assessment: &Assessment, round: Condition) -> Vec<(String, String)> {
    let doubtful = |j: Judgement| matches!(j, Judgement::Fail | Judgement::TooCloseToCall);
    let mut found: Vec<(String, String)> = Vec::new();
    let mut add = |cylinder: &String, why: &str| {
        if !found.iter().any(|(name, _)| name == cylinder) {
            found.push((cylinder.clone(), why.to_owned()));
        }
    };
    for finding in &assessment.findings {
        if doubtful(finding.judgement) && finding.condition == Some(round) {
            for cylinder in &finding.cylinders {
                add(cylinder, &finding.text);
            }
        }
    }
    for comparison in &assessment.comparisons {
        if comparison.condition == round && doubtful(comparison.judgement) {
            let why = format!(
                "cylinder {} reads {:.0} % of cylinder {}",
                comparison.lowest,
                comparison.share * 100.0,
                comparison.highest
            );
            add(&comparison.lowest, &why);
        }
    }
    found
}
