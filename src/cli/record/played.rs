//! Sources that need no hardware: a recording, a simulated visit.

use crate::cli::{Exit, Failure, document};
use crate::simulate::Recipe;
use crate::transport::{Pace, Source, replay, virtual_sensor};
use std::path::Path;

/// A recording, played.
pub(super) fn recording(path: &Path, pace: Pace) -> Result<Box<dyn Source>, Failure> {
    let source = replay(path, pace).map_err(|error| Failure::from(error).at(path.display()))?;
    Ok(Box::new(source))
}

/// A simulated visit, played. The recipe's protocol file and job card are beside it.
pub(super) fn recipe(path: &Path, pace: Pace) -> Result<Box<dyn Source>, Failure> {
    let recipe = Recipe::parse(&document::text(path)?).map_err(|error| {
        Failure::new(Exit::BadInput, error)
            .at(path.display())
            .remedy("correct the recipe")
    })?;
    let beside = |name: &String| document::text(&path.with_file_name(name));
    let protocol = match recipe.protocol.as_ref().map(beside).transpose()? {
        Some(text) => text,
        None => include_str!("../../../protocol/reference-sensor.toml").to_owned(),
    };
    let card = recipe.card.as_ref().map(beside).transpose()?;
    let source = virtual_sensor(&recipe, &protocol, card.as_deref(), pace)
        .map_err(|error| Failure::from(error).at(path.display()))?;
    Ok(Box::new(source))
}
