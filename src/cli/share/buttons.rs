//! Which buttons a page has: those of the keys that do something now.

use crate::cli::gauge::Scene;
use crate::session::{Stage, Tone};
use serde::Serialize;

/// A button.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(super) struct Button {
    /// The word that it sends.
    word: &'static str,
    /// What is written on it.
    label: String,
    /// It is what is to be done now.
    first: bool,
}

/// The buttons now.
pub(super) fn buttons(scene: &Scene) -> Vec<Button> {
    let view = &scene.view;
    let bleed = view.headline == "BLEED";
    let go = match view.stage {
        Stage::Cautions | Stage::AirCautions => Some("I have read them and will heed them"),
        Stage::Bleed if bleed => Some("Bled"),
        Stage::Bleed => Some("Sensor is out"),
        Stage::Zero if bleed => Some("Take this as zero"),
        Stage::Naming => Some("Leave it unnamed"),
        Stage::Air => Some("Done: go on"),
        _ => None,
    };
    let go = go.map(|label| button("go", label, true));
    let keys = scene.keys.iter().filter_map(|(key, label)| {
        let turn = view.tone == Tone::Go && !bleed;
        Some(match *key {
            "Space" => button("kick", &format!("{label} (practice)"), turn),
            "b" => button("bleed", &format!("{label} (practice)"), bleed),
            "i" => button("oil", "Oil is in", true),
            "r" => button("again", label, false),
            "s" => button("next", "Next: leave this out", false),
            "l" => button("leak-down", "Leak-down test", false),
            "n" => button("name", "Name the cylinder", false),
            "w" => button("warm", "Warm round", false),
            "p" => button("pause", label, false),
            "f" => button("finish", label, false),
            "u" => button("undo", label, false),
            _ => return None,
        })
    });
    let places = scene.places.iter();
    let places =
        places.map(|place| button(place.word(), &format!("Heard: {}", place.word()), false));
    go.into_iter().chain(places).chain(keys).collect()
}

fn button(word: &'static str, label: &str, first: bool) -> Button {
    let label = label.to_owned();
    Button { word, label, first }
}
