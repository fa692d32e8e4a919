//! What was taken for granted.

use super::shown::Units;
use crate::assess::saying::Note;
use crate::engine::oil::MOST_CM3;

/// A note.
pub(super) fn note(note: &Note, units: Units) -> String {
    match note {
        Note::AmbientFromHeight(absolute) => format!(
            "Ambient pressure {} is from the height on the card by the standard atmosphere, not \
             measured.",
            units.show(*absolute)
        ),
        Note::SeaLevelAssumed(absolute) => format!(
            "No height and no ambient pressure on the card: sea level ({}) is assumed. Each 300 m \
             higher lowers every reading by about 3.5 %.",
            units.show(*absolute)
        ),
        Note::TakenBack(runs) => {
            let runs: Vec<String> = runs
                .iter()
                .map(|(name, condition)| {
                    format!("the {} run of cylinder {name}", condition.label())
                })
                .collect();
            format!("Taken back, and not counted: {}.", runs.join(", "))
        }
        Note::NoTesterVolume => {
            "The tester's volume at the plug hole is not on the card: it is taken as none. In a \
             small cylinder a few cm³ lower every reading by some per cent."
                .to_owned()
        }
        Note::NoOilAmount => format!(
            "The card does not say how much oil was put in: for the causes a tenth of the chamber \
             is taken, {MOST_CM3:.0} cm³ at most."
        ),
        Note::NoClosing => {
            "The card does not say when compression begins: a usual valve or port timing is taken."
                .to_owned()
        }
        Note::Frequencies => {
            "Probabilities take causes to be as frequent as we think they are (nobody has \
             published how often): they rank what to look at and prove nothing."
                .to_owned()
        }
    }
}
