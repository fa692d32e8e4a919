//! What the commands that talk to a sensor share.

pub(super) mod choice;
pub(super) mod connect;
pub(super) mod failures;
pub(super) mod known;
pub(super) mod recorder;
pub(super) mod rest;
pub(super) mod runtime;
pub(super) mod screen;

use crate::recording::{FORMAT, Header, VERSION};
use crate::transport::Origin;

/// The first line of a recording of what comes from this origin; `card` comes before the origin's
/// own. Begun now, unless the origin knows better.
pub(super) fn header(origin: Origin, card: Option<String>) -> Header {
    let now = || jiff::Timestamp::now().to_string();
    Header {
        format: FORMAT.to_owned(),
        version: VERSION,
        tool: env!("CARGO_PKG_VERSION").to_owned(),
        started: origin.started.unwrap_or_else(now),
        protocol: origin.protocol,
        sensor: origin.sensor,
        card: card.or(origin.card),
    }
}
