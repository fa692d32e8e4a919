//! Which cylinder and condition a run belongs to.

use crate::engine::{Condition, JobCard};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Cylinder and condition of a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Label {
    /// Name of the cylinder.
    pub cylinder: String,
    /// The engine's condition.
    pub condition: Condition,
}

/// Names runs: by what the recording says, else by what the user says, else by the card's order,
/// else by number.
#[derive(Clone, Debug)]
pub(super) struct Labels {
    /// Given by the user for the runs that the recording does not name, in their order.
    given: Vec<Label>,
    /// The card's cylinders.
    cylinders: Vec<String>,
    /// Announced by the recording for the run that comes.
    announced: Option<Label>,
    /// Runs named without the recording's help so far.
    unnamed: usize,
}

impl Labels {
    pub(super) fn new(card: Option<&JobCard>, given: Vec<Label>) -> Self {
        let cylinders = card.map_or_else(Vec::new, |card| {
            card.cylinders
                .iter()
                .map(|cylinder| cylinder.name.clone())
                .collect()
        });
        Self {
            given,
            cylinders,
            announced: None,
            unnamed: 0,
        }
    }

    pub(super) fn announce(&mut self, label: Label) {
        self.announced = Some(label);
    }

    /// Nothing is announced any more.
    pub(super) fn take_back(&mut self) {
        self.announced = None;
    }

    /// Whether the recording has named the run that comes.
    pub(super) fn is_announced(&self) -> bool {
        self.announced.is_some()
    }

    /// The label of the run that has just ended, and whether the recording gave it.
    pub(super) fn take(&mut self) -> (Label, bool) {
        if let Some(label) = self.announced.take() {
            return (label, true);
        }
        let index = self.unnamed;
        self.unnamed += 1;
        if let Some(label) = self.given.get(index) {
            return (label.clone(), false);
        }
        let by_card = self
            .cylinders
            .get(index.checked_rem(self.cylinders.len()).unwrap_or(0));
        let cylinder = by_card.cloned().unwrap_or_else(|| (index + 1).to_string());
        (
            Label {
                cylinder,
                condition: Condition::ColdDry,
            },
            false,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn label(cylinder: &str, condition: Condition) -> Label {
        Label {
            cylinder: cylinder.to_owned(),
            condition,
        }
    }

    #[test]
    fn the_recording_comes_first_then_the_user_then_the_number() {
        let mut labels = Labels::new(None, vec![label("left", Condition::Wet)]);
        labels.announce(label("right", Condition::WarmDry));
        assert_eq!(labels.take(), (label("right", Condition::WarmDry), true));
        assert_eq!(labels.take(), (label("left", Condition::Wet), false));
        assert_eq!(labels.take(), (label("2", Condition::ColdDry), false));
    }
}
