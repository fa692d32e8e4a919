//! A virtual sensor on a simulated engine, as a source: what needs no hardware goes the same way
//! as what does.

use super::replay::arrivals_of;
use super::{Arrival, Pace, Paced, TransportError};
use crate::recording::Reader;
use crate::simulate::{self, Recipe};
use std::io::Cursor;

/// Simulates the whole visit that the recipe describes, then plays it. `protocol` and `card` are
/// the texts of the protocol file and the job card (TOML).
///
/// # Errors
/// When the recipe is impossible or the protocol file is not sound.
pub fn virtual_sensor(
    recipe: &Recipe,
    protocol: &str,
    card: Option<&str>,
    pace: Pace,
) -> Result<
    Paced<impl Iterator<Item = Result<Arrival, TransportError>> + Send + use<>>,
    TransportError,
> {
    let failed = |error: &dyn std::fmt::Display| TransportError::Virtual(error.to_string());
    let visit = simulate::session(recipe, protocol, card).map_err(|error| failed(&error))?;
    let reader = Reader::new(Cursor::new(visit.recording)).map_err(|error| failed(&error))?;
    Ok(arrivals_of(reader, pace))
}
