//! Sources that need no hardware: a recording, a simulated visit.

use crate::cli::live::choice;
use crate::cli::{Exit, Failure, document};
use crate::simulate::Recipe;
use crate::transport::{Pace, Source, replay, virtual_sensor};
use std::path::{Path, PathBuf};

/// A recording, played.
pub(super) fn recording(path: &Path, pace: Pace) -> Result<Box<dyn Source>, Failure> {
    let source = replay(path, pace).map_err(|error| Failure::from(error).at(path.display()))?;
    Ok(Box::new(source))
}

/// A simulated visit, played. The recipe's protocol file, unless another one is given, and its job
/// card are beside it.
pub(super) fn recipe(
    path: &Path,
    given: &[PathBuf],
    pace: Pace,
) -> Result<Box<dyn Source>, Failure> {
    let recipe = Recipe::parse(&document::text(path)?).map_err(|error| {
        Failure::new(Exit::BadInput, error)
            .at(path.display())
            .remedy("correct the recipe")
    })?;
    let beside = |name: &String| document::text(&path.with_file_name(name));
    let protocol = match (given, &recipe.protocol) {
        ([], None) => include_str!("../../../protocol/reference-sensor.toml").to_owned(),
        ([], Some(name)) => beside(name)?,
        ([one], _) => choice::read(one)?.text().to_owned(),
        _ => {
            let what = "a virtual sensor talks as one protocol file says";
            return Err(Failure::new(Exit::Usage, what).remedy("give --protocol once"));
        }
    };
    let card = recipe.card.as_ref().map(beside).transpose()?;
    let source = virtual_sensor(&recipe, &protocol, card.as_deref(), pace)
        .map_err(|error| Failure::from(error).at(path.display()))?;
    Ok(Box::new(source))
}
