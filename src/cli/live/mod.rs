//! What the commands that talk to a sensor share.

pub(in crate::cli) mod air;
pub(super) mod choice;
pub(super) mod connect;
pub(super) mod corrected;
pub(super) mod desk;
pub(super) mod failures;
pub(super) mod known;
pub(super) mod lines;
pub(super) mod rest;
pub(super) mod runtime;
pub(super) mod screen;
pub(super) mod told;
pub(super) mod view;

use super::{Exit, Failure};
use crate::engine::{JobCard, Rating};
use crate::protocol::ProtocolFile;
use crate::recording::{FORMAT, Header};
use crate::transport::Origin;
use crate::units::PressureUnit;

/// The first line of a recording of what comes from this origin; `card` comes before the origin's
/// own. Begun now, unless the origin knows better.
pub(super) fn header(origin: Origin, card: Option<String>) -> Header {
    // To the second: what a person reads has no use for more.
    let now = || {
        jiff::Timestamp::now()
            .strftime("%Y-%m-%dT%H:%M:%SZ")
            .to_string()
    };
    Header {
        format: FORMAT.to_owned(),
        version: Header::version_for(&origin.sensor),
        tool: env!("CARGO_PKG_VERSION").to_owned(),
        started: origin.started.unwrap_or_else(now),
        protocol: origin.protocol,
        sensor: origin.sensor,
        card: card.or(origin.card),
    }
}

/// How the sensor's range and the engine go together. Nobody is asked to crank with a sensor that
/// is known to be too weak.
pub(super) fn rated(
    card: Option<&JobCard>,
    protocol: &ProtocolFile,
    unit: PressureUnit,
) -> Result<Rating, Failure> {
    let rating = Rating::of(card, protocol.gauge_top());
    match rating.refusal(unit) {
        Some(why) => Err(Failure::new(Exit::BadInput, why)
            .at(format!("range_high of \"{}\"", protocol.name()))
            .remedy(Rating::REMEDY)),
        None => Ok(rating),
    }
}
