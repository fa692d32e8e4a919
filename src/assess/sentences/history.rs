//! What changed between two visits.

use super::shown::Units;
use crate::assess::changed::Trend;
use crate::assess::saying::{Between, Moved, Uncompared};

/// How a cylinder's reading moved.
pub(super) fn moved(moved: &Moved, units: Units) -> String {
    let way = match moved.trend {
        Trend::Risen => "it has risen",
        Trend::Fallen => "it has fallen",
        Trend::NotClear => "no change beyond the uncertainty",
    };
    let like = moved.like_with_like.map_or_else(String::new, |change| {
        format!("; like with like {}", units.measured(change))
    });
    let (condition_before, before) = moved.before;
    let (condition_after, after) = moved.after;
    let [label_before, label_after] = &moved.labels;
    format!(
        "Cylinder {}: {} {} {label_before}, {} {} {label_after}, a change of {}{like}: {way}.",
        moved.cylinder,
        units.show(before),
        condition_before.label(),
        units.show(after),
        condition_after.label(),
        units.measured(moved.change),
    )
}

/// What two visits come to, in a sentence.
pub(super) fn between(between: &Between) -> String {
    match between {
        Between::TwoEngines(before, after) => format!(
            "These are two engines by their cards, {before} and {after}: what follows says nothing \
             of a change, unless a card has the wrong name."
        ),
        Between::NothingInCommon => {
            "The two visits have no cylinder in common that was read in both.".to_owned()
        }
        Between::Unchanged => {
            "No cylinder changed beyond the uncertainty of the readings.".to_owned()
        }
        Between::Changed {
            labels: [before, after],
            risen,
            fallen,
        } => {
            let part = |way: &str, names: &[String]| {
                (!names.is_empty()).then(|| format!("{way}: {}", names.join(", ")))
            };
            let parts = [part("risen", risen), part("fallen", fallen)];
            let parts: Vec<String> = parts.into_iter().flatten().collect();
            format!("From {before} to {after}, {}.", parts.join("; "))
        }
    }
}

/// What could not be compared, and what to mind.
pub(super) fn uncompared(uncompared: &Uncompared) -> String {
    match uncompared {
        Uncompared::NotReadInBoth(name) => {
            format!("Cylinder {name} has no reading in both visits.")
        }
        Uncompared::OnlyInOne(name) => format!("Cylinder {name} is only in one of the visits."),
        Uncompared::ColdAndWarm => {
            "Some cylinders were read cold in one visit and warm in the other: only the change \
             like with like says anything about the engine, and it rests on a model."
                .to_owned()
        }
        Uncompared::OtherSensor => {
            "The visits were made with different sensors (or it is not known that they were not): \
             each sensor's own error counts in full."
                .to_owned()
        }
        Uncompared::ThinCard => {
            "A card is too thin for corrections: differences in cadence, height and tester are \
             part of the change."
                .to_owned()
        }
    }
}
