//! What every source of packets does.

use super::TransportError;
use crate::recording::{Packet, SensorIdentity, TimedEvent};
use futures::future::BoxFuture;

/// What a source hands on.
#[derive(Clone, Debug, PartialEq)]
pub enum Arrival {
    /// A notification, as received: record it, then decode it.
    Packet(Packet),
    /// Something that happened: record it. A replay hands on every event of its recording.
    Event(TimedEvent),
    /// For the eyes only; not part of the recording.
    Notice(Notice),
}

/// News about the source that changes nothing in the recording.
#[derive(Clone, Debug, PartialEq)]
pub enum Notice {
    /// Nothing has come for this long though the link is up, in milliseconds.
    Silent {
        /// Length of the silence, in milliseconds.
        for_ms: u64,
    },
    /// Trying to connect again.
    Reconnecting {
        /// Which attempt, from 1.
        attempt: u32,
        /// Why the attempt before it failed; none at the first.
        because: Option<String>,
    },
    /// The host told the signal strength.
    Signal {
        /// In dBm.
        rssi_dbm: i16,
    },
    /// Something the user should know, in a sentence.
    Warning(String),
}

/// What the first line of a recording needs to know about a source.
#[derive(Clone, Debug, PartialEq)]
pub struct Origin {
    /// The protocol file, verbatim.
    pub protocol: String,
    /// The sensor.
    pub sensor: SensorIdentity,
    /// The job card, verbatim, if the source carries one (a recording does).
    pub card: Option<String>,
    /// When the source's time zero was (UTC, RFC 3339), if it is not now (a recording).
    pub started: Option<String>,
}

/// A source of packets.
///
/// Times (`t_us`) are the host's monotonic microseconds since the source was opened (for a
/// replay: since its recording began) and never decrease.
pub trait Source: Send {
    /// Where the packets come from.
    fn origin(&self) -> &Origin;

    /// The source's time now, in microseconds: the stamp for what the user does (run begun, mark).
    /// Never less than that of the last arrival.
    fn now_us(&self) -> u64;

    /// The next arrival; `None` when there will be no more. Dropping the future before it is
    /// ready loses nothing, so it may stand in a `select!`.
    ///
    /// # Errors
    /// When the source is broken for good; nothing comes after an error.
    fn next(&mut self) -> BoxFuture<'_, Result<Option<Arrival>, TransportError>>;

    /// Stops the sensor and lets go of it: no subscription, connection or task is left behind.
    /// Arrivals that had already reached the host can still be had from [`Source::next`].
    /// Stopping twice is not an error.
    ///
    /// # Errors
    /// When the sensor could not be told; it is let go of all the same.
    fn stop(&mut self) -> BoxFuture<'_, Result<(), TransportError>>;
}

impl Source for Box<dyn Source> {
    fn origin(&self) -> &Origin {
        (**self).origin()
    }

    fn now_us(&self) -> u64 {
        (**self).now_us()
    }

    fn next(&mut self) -> BoxFuture<'_, Result<Option<Arrival>, TransportError>> {
        (**self).next()
    }

    fn stop(&mut self) -> BoxFuture<'_, Result<(), TransportError>> {
        (**self).stop()
    }
}
