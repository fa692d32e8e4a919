//! A connected sensor, commanded and listened to by hand: for trying it out, not for recording.
//! Nothing keeps the link.

use super::faults::within;
use super::link::EXCHANGE;
use super::pump::Notes;
use super::sensor::Sensor;
use crate::protocol::{Command, STREAM};
use crate::recording::Packet;
use crate::transport::{Clock, TransportError};
use btleplug::api::Peripheral as _;
use futures::StreamExt;
use std::time::Duration;
use tokio::time::{Instant, timeout_at};
use uuid::Uuid;

/// Listens to the stream's characteristic.
pub struct Ear {
    notes: Notes,
    stream: (Uuid, Uuid),
    clock: Clock,
}

impl Sensor {
    /// Subscribes to the stream, and starts nothing.
    ///
    /// # Errors
    /// The sensor or the host refuses.
    pub async fn ear(&self) -> Result<Ear, TransportError> {
        let link = self.link();
        let notes = link.peripheral.notifications();
        let notes = within(EXCHANGE, "listen to the sensor", notes).await?;
        let one = &link.plan.stream;
        let subscribed = link.peripheral.subscribe(one);
        within(EXCHANGE, "subscribe to the pressure", subscribed).await?;
        Ok(Ear {
            notes,
            stream: (one.service_uuid, one.uuid),
            clock: Clock::start(),
        })
    }

    /// Sends a command.
    ///
    /// # Errors
    /// The sensor has no such command, or does not take it.
    pub async fn command(&self, command: Command) -> Result<(), TransportError> {
        self.link().command(command).await
    }
}

impl Ear {
    /// What comes for so long, from now on: with what had come unheard, unless it is
    /// [forgotten](Self::forget) before.
    pub async fn hear(&mut self, length: Duration) -> Vec<Packet> {
        let end = Instant::now() + length;
        let mut heard = Vec::new();
        while let Ok(Some(note)) = timeout_at(end, self.notes.next()).await {
            if (note.service_uuid, note.uuid) == self.stream {
                heard.push(Packet {
                    t_us: self.clock.now_us(),
                    from: STREAM.to_owned(),
                    hex: note.value,
                });
            }
        }
        heard
    }

    /// Forgets what came unheard.
    pub async fn forget(&mut self) {
        self.hear(Duration::ZERO).await;
    }
}
