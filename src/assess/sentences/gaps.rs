//! What the runs made cannot tell.

use crate::assess::saying::{Gap, Missing};
use crate::engine::ReadingOnly;

/// Something that cannot be told.
pub(super) fn gap(gap: &Gap) -> String {
    match gap {
        Gap::OneOfSeveral => {
            "Only one cylinder was read: the cylinders cannot be compared with each other."
                .to_owned()
        }
        Gap::SingleCylinder => {
            "With a single cylinder there is no other to compare with: only the card says what it \
             should read."
                .to_owned()
        }
        Gap::AirOnly(name) => format!(
            "Cylinder {name} was tested with air only: it was not read while it was cranked."
        ),
        Gap::NoReading(name) => {
            format!("Cylinder {name} has no usable reading: nothing is said about it.")
        }
        Gap::RunWithoutReading(name, condition) => format!(
            "The {} run of cylinder {name} gave no reading (no strokes, or none that settled on \
             anything).",
            condition.label()
        ),
        Gap::NotOnCard(name) => format!(
            "The recording names a cylinder {name} that the job card does not know: its neighbours \
             are unknown. Give the run the card's name, or add it to the card."
        ),
        Gap::Mixed {
            left_out,
            only,
            others,
        } => format!(
            "Cylinders were read in different conditions: {} only {}, the others {}. They are not \
             compared; read them all in one condition.",
            left_out.join(", "),
            only.label(),
            others.label()
        ),
        Gap::OnlyWet(names) => format!(
            "Of cylinder {} there is only a wet reading: without a dry one the change is unknown.",
            names.join(", ")
        ),
        Gap::RingsOrValves(names) => format!(
            "No wet run of cylinder {}: rings and valves are not told apart.",
            names.join(", ")
        ),
        Gap::WhichValve => {
            "A leaking intake valve and a leaking exhaust valve look the same from the plug hole."
                .to_owned()
        }
        Gap::NoNeighbours => {
            "The card names no neighbours: a gasket leaking between two cylinders is not looked \
             for. Neighbours are cylinders side by side on one bank, not in firing order."
                .to_owned()
        }
        Gap::NoCard => {
            "There is no job card: the readings are compared with each other only, and nothing \
             says what this engine should read."
                .to_owned()
        }
        Gap::ThinCard(missing) => thin_card(missing),
        Gap::ReadingOnly(why) => reading_only(*why),
    }
}

fn thin_card(missing: &[Missing]) -> String {
    let missing: Vec<&str> = missing
        .iter()
        .map(|missing| match missing {
            Missing::Bore => "bore",
            Missing::Stroke => "stroke",
            Missing::Ratio => "compression ratio",
        })
        .collect();
    format!(
        "The card gives no {}: the expected reading, the leak area and the corrections for \
         cadence, tester and oil are not computed, and what all cylinders share (throttle, valve \
         timing, a leak of the tester) cannot be told.",
        missing.join(", no ")
    )
}

/// What is not said of an engine that the calculations were not made for.
fn reading_only(why: ReadingOnly) -> String {
    let (what, why) = match why {
        ReadingOnly::AutomaticDecompressor => (
            "Its automatic decompressor lets part of each stroke out while it is cranked: a sound \
             engine reads low. The readings stand for themselves, and limits of its own manual \
             alone are held against them.",
            "",
        ),
        ReadingOnly::Diesel => (
            "It is a diesel, judged by what is published for diesels and by limits on its card \
             alone.",
            ": what is behind them was found on petrol engines",
        ),
    };
    format!("{what} No expected reading, no causes and no score are given{why}.")
}
