//! Keeps the link: notices when it is lost, brings it back, lets go of it in the end.
//!
//! No single sign of life suffices. The host tells of a lost link, unless its Bluetooth service
//! died with it; the service answers for the link, unless it hangs; and a link may be up while
//! the sensor is silent. So: events, a question every second under a time limit, and silence.

use super::asker::Asker;
use super::faults::within;
use super::link::Link;
use super::pump::{News, Pulse};
use super::scan::{NO_RSSI, Scanner, Sought};
use crate::recording::Event;
use crate::transport::{Clock, Notice, TransportError};
use btleplug::api::{Central, CentralEvent, CentralState, Characteristic, Peripheral as _};
use futures::stream::{BoxStream, StreamExt};
use std::time::Duration;
use tokio::sync::mpsc::UnboundedSender;
use tokio::time::{Instant, MissedTickBehavior, interval, sleep};
use tokio_util::sync::CancellationToken;

/// From one question to the next.
const ASK: Duration = Duration::from_secs(1);
/// Longest wait for the answer.
const ASK_LIMIT: Duration = Duration::from_secs(3);
/// Questions without an answer until the link counts as lost.
const UNANSWERED: u32 = 2;
/// Silence worth telling.
const SILENT_US: u64 = 2_000_000;
/// Silence after which the sensor is told to start again.
const NUDGE_US: u64 = 5_000_000;
/// Silence after which the link is made anew.
const DEAF_US: u64 = 12_000_000;
/// From one reading of the battery and the like to the next.
const READ_EVERY: Duration = Duration::from_mins(1);
/// How long to look for the sensor before an attempt to connect.
const SEEK: Duration = Duration::from_secs(4);
/// Longest attempt to connect again, all in all.
const ATTEMPT: Duration = Duration::from_secs(40);
/// Pauses between attempts: doubled from the first up to the last.
const PAUSE: (Duration, Duration) = (Duration::from_millis(250), Duration::from_secs(5));
/// After this long without a link there is no more hope.
const GIVE_UP: Duration = Duration::from_mins(10);

type Events = BoxStream<'static, CentralEvent>;

/// How a watch ended.
enum Watch {
    /// The user stops.
    Stop,
    /// The link is lost.
    Lost,
}

/// Keeps the link.
pub(super) struct Keeper {
    pub link: Link,
    pub scanner: Scanner,
    pub address: String,
    pub clock: Clock,
    pub pulse: Pulse,
    pub news: UnboundedSender<News>,
    pub stop: CancellationToken,
    pub events: Option<Events>,
    /// The connection to the host's Bluetooth service is of no use any more.
    pub stale: bool,
}

impl Keeper {
    /// Runs until told to stop or until there is no more hope; lets go of the sensor either way.
    pub async fn run(mut self) -> Result<(), TransportError> {
        let ended = self.keep().await;
        self.scanner.stop().await;
        let let_go = self.link.let_go().await;
        ended.and(let_go)
    }

    async fn keep(&mut self) -> Result<(), TransportError> {
        loop {
            match self.watch().await {
                Watch::Stop => return Ok(()),
                Watch::Lost => {
                    self.tell(News::Event(Event::LinkLost));
                    if !self.reconnect().await? {
                        return Ok(());
                    }
                    self.tell(News::Event(Event::LinkBack));
                }
            }
        }
    }

    fn tell(&self, news: News) {
        // The pump ends only after the keeper.
        let _ = self.news.send(news);
    }

    /// Watches a link that is up.
    async fn watch(&mut self) -> Watch {
        let begun_us = self.clock.now_us();
        let mut ask = interval(ASK);
        ask.set_missed_tick_behavior(MissedTickBehavior::Delay);
        let mut read = interval(READ_EVERY);
        read.set_missed_tick_behavior(MissedTickBehavior::Delay);
        read.reset();
        let mut unanswered = 0;
        let mut nudged = false;
        self.read_all().await;
        // Ends with the watch, before the link is let go or made anew.
        let _asker = Asker::start(&self.link, &self.pulse, &self.news);
        let stop = self.stop.clone();
        loop {
            tokio::select! {
                () = stop.cancelled() => return Watch::Stop,
                event = next_event(&mut self.events) => {
                    if self.means_lost(event.as_ref()).await {
                        return Watch::Lost;
                    }
                }
                _ = ask.tick() => {
                    let question = self.link.peripheral.is_connected();
                    match within(ASK_LIMIT, "ask for the link", question).await {
                        Ok(true) => {
                            unanswered = 0;
                            self.stale = false;
                        }
                        Ok(false) => return Watch::Lost,
                        Err(error) => {
                            unanswered += 1;
                            self.stale = is_beyond_hope(&error);
                        }
                    }
                    if unanswered >= UNANSWERED {
                        return Watch::Lost;
                    }
                    let last_us = self.pulse.last_us().max(begun_us);
                    let silent_us = self.clock.now_us().saturating_sub(last_us);
                    if silent_us < SILENT_US {
                        nudged = false;
                    } else {
                        self.tell(News::Notice(Notice::Silent { for_ms: silent_us / 1000 }));
                    }
                    if silent_us > NUDGE_US && !nudged {
                        nudged = true;
                        // Should it fail, the link is made anew in a few seconds.
                        let _ = self.link.start().await;
                    }
                    if silent_us > DEAF_US && self.link.protocol.rate().is_some() {
                        // A link that carries nothing is lost, whatever the host says.
                        let _ = self.link.let_go().await;
                        return Watch::Lost;
                    }
                }
                _ = read.tick() => self.read().await,
            }
        }
    }

    async fn means_lost(&mut self, event: Option<&CentralEvent>) -> bool {
        match event {
            Some(CentralEvent::DeviceDisconnected(id)) if *id == self.link.peripheral.id() => {
                // The event may have waited in a queue since before the link came back.
                let question = self.link.peripheral.is_connected();
                !matches!(
                    within(ASK_LIMIT, "ask for the link", question).await,
                    Ok(true)
                )
            }
            Some(CentralEvent::StateUpdate(CentralState::PoweredOff)) => true,
            Some(_) => false,
            None => {
                // Ended: the questions alone must do.
                self.events = None;
                false
            }
        }
    }

    /// Reads everything once: a value that notifies only when it changes would stay unknown.
    async fn read_all(&mut self) {
        for (from, one) in self.link.plan.notifying.clone() {
            self.read_one(from, &one).await;
        }
        self.read().await;
    }

    /// Reads what does not notify by itself.
    async fn read(&mut self) {
        for (from, one) in self.link.plan.readable.clone() {
            self.read_one(from, &one).await;
        }
        let properties = self.link.peripheral.properties();
        let properties = within(ASK_LIMIT, "ask for the signal strength", properties).await;
        let rssi_dbm = properties
            .ok()
            .flatten()
            .and_then(|properties| properties.rssi);
        if let Some(rssi_dbm) = rssi_dbm.filter(|&rssi| rssi != NO_RSSI) {
            self.tell(News::Notice(Notice::Signal { rssi_dbm }));
        }
    }

    async fn read_one(&mut self, from: String, one: &Characteristic) {
        // One that fails now is tried again in a minute.
        if let Ok(bytes) = self.link.read(one).await {
            self.tell(News::Read { from, bytes });
        }
    }

    /// Tries until the link is back (true) or the user stops (false).
    async fn reconnect(&mut self) -> Result<bool, TransportError> {
        let begun = Instant::now();
        let mut pause = PAUSE.0;
        let mut because = None;
        let stop = self.stop.clone();
        for attempt in 1.. {
            self.tell(News::Notice(Notice::Reconnecting {
                attempt,
                because: because.take(),
            }));
            let tried = tokio::select! {
                () = stop.cancelled() => return Ok(false),
                tried = tokio::time::timeout(ATTEMPT, self.attempt(attempt)) => tried,
            };
            match tried {
                Ok(Ok(())) => return Ok(true),
                Ok(Err(error)) => because = Some(error.to_string()),
                Err(_) => because = Some(format!("no answer in {} s", ATTEMPT.as_secs())),
            }
            if begun.elapsed() > GIVE_UP {
                break;
            }
            tokio::select! {
                () = stop.cancelled() => return Ok(false),
                () = sleep(pause) => pause = (pause * 2).min(PAUSE.1),
            }
        }
        Err(TransportError::Gone {
            waited: begun.elapsed(),
        })
    }

    async fn attempt(&mut self, attempt: u32) -> Result<(), TransportError> {
        if attempt > 1 || self.stale {
            self.seek().await?;
        }
        self.link.reopen().await
    }

    /// Looks for the sensor: the host may have forgotten it. Starts from the message bus where
    /// the connection to the Bluetooth service is of no use any more.
    async fn seek(&mut self) -> Result<(), TransportError> {
        let wanted = Sought::address(&self.address);
        if self.stale {
            let name = self.scanner.adapter_name().to_owned();
            let mut scanner = Scanner::open(Some(&name)).await?;
            let found = scanner.find(&wanted, &[], SEEK).await?;
            let notes = found.peripheral.notifications();
            let notes = within(ASK_LIMIT, "listen to the sensor", notes).await?;
            let events = within(ASK_LIMIT, "listen to the host", scanner.adapter.events()).await?;
            self.tell(News::Notes(notes));
            self.events = Some(events);
            self.link.peripheral = found.peripheral;
            self.scanner = scanner;
            self.stale = false;
            return Ok(());
        }
        match self.scanner.find(&wanted, &[], SEEK).await {
            Ok(_) => Ok(()),
            Err(error) => {
                self.stale = is_beyond_hope(&error);
                Err(error)
            }
        }
    }
}

/// Whether the connection to the message bus is of no use any more. A Bluetooth service that is
/// only away, or an adapter that is only off, will be found again through it; a bus that died
/// will not. Not more often than needed: the library never closes an old connection.
fn is_beyond_hope(error: &TransportError) -> bool {
    matches!(
        error,
        TransportError::NoBus { .. } | TransportError::Timeout { .. }
    )
}

/// The next event; never, once there are none.
async fn next_event(events: &mut Option<Events>) -> Option<CentralEvent> {
    match events {
        Some(events) => events.next().await,
        None => std::future::pending().await,
    }
}
