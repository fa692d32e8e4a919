//! The one task that stamps and forwards. It does nothing else, so that a stamp is late by no
//! more than the host itself.

use crate::protocol::STREAM;
use crate::recording::{Event, Packet, TimedEvent};
use crate::transport::{Arrival, Clock, Notice};
use btleplug::api::ValueNotification;
use futures::FutureExt;
use futures::stream::{BoxStream, StreamExt};
use std::collections::BTreeMap;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use tokio::sync::Notify;
use tokio::sync::futures::Notified;
use tokio::sync::mpsc::{UnboundedReceiver, UnboundedSender};
use uuid::Uuid;

/// The library's notifications.
pub(super) type Notes = BoxStream<'static, ValueNotification>;

/// What the keeper has to tell.
pub(super) enum News {
    /// Something to record.
    Event(Event),
    /// Something to show.
    Notice(Notice),
    /// A value that was read, not notified.
    Read {
        /// What recordings call the characteristic.
        from: String,
        /// The value.
        bytes: Vec<u8>,
    },
    /// Notifications come from here from now on.
    Notes(Notes),
}

/// When the last notification of the stream came, in microseconds; shared with the keeper.
#[derive(Clone, Debug, Default)]
pub(super) struct Pulse(Arc<Beat>);

#[derive(Debug, Default)]
struct Beat {
    last_us: AtomicU64,
    came: Notify,
}

impl Pulse {
    pub fn beat(&self, t_us: u64) {
        self.0.last_us.store(t_us, Ordering::Relaxed);
        self.0.came.notify_waiters();
    }

    pub fn last_us(&self) -> u64 {
        self.0.last_us.load(Ordering::Relaxed)
    }

    /// Waits for the next beat from now on.
    pub fn next(&self) -> Notified<'_> {
        self.0.came.notified()
    }
}

/// Stamps and forwards.
pub(super) struct Pump {
    pub clock: Clock,
    pub notes: Notes,
    pub names: BTreeMap<(Uuid, Uuid), String>,
    pub pulse: Pulse,
    pub out: UnboundedSender<Arrival>,
}

impl Pump {
    /// Runs until the keeper hangs up, then forwards what had already reached the host.
    pub async fn run(mut self, mut news: UnboundedReceiver<News>) {
        let mut notes_open = true;
        loop {
            tokio::select! {
                note = self.notes.next(), if notes_open => match note {
                    Some(note) => self.note(note),
                    None => notes_open = false,
                },
                told = news.recv() => {
                    self.drain();
                    match told {
                        Some(News::Notes(notes)) => {
                            self.notes = notes;
                            notes_open = true;
                        }
                        Some(told) => self.told(told),
                        None => return,
                    }
                }
            }
        }
    }

    /// Forwards what is there already.
    fn drain(&mut self) {
        while let Some(Some(note)) = self.notes.next().now_or_never() {
            self.note(note);
        }
    }

    fn note(&mut self, note: ValueNotification) {
        let t_us = self.clock.now_us();
        // Only what was subscribed to: on some hosts a read shows up as a notification too.
        let Some(from) = self.names.get(&(note.service_uuid, note.uuid)) else {
            return;
        };
        if from == STREAM {
            self.pulse.beat(t_us);
        }
        let from = from.clone();
        self.send(Arrival::Packet(Packet {
            t_us,
            from,
            hex: note.value,
        }));
    }

    fn told(&mut self, news: News) {
        let t_us = self.clock.now_us();
        match news {
            News::Event(event) => self.send(Arrival::Event(TimedEvent { t_us, event })),
            News::Notice(notice) => self.send(Arrival::Notice(notice)),
            News::Read { from, bytes } => {
                if from == STREAM {
                    self.pulse.beat(t_us);
                }
                self.send(Arrival::Packet(Packet {
                    t_us,
                    from,
                    hex: bytes,
                }));
            }
            News::Notes(_) => {}
        }
    }

    fn send(&self, arrival: Arrival) {
        // The receiver is gone only when the stream was dropped: nobody is left to tell.
        let _ = self.out.send(arrival);
    }
}
