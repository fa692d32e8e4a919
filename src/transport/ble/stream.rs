//! The stream of a connected sensor, as a source.

use super::faults::within;
use super::keeper::Keeper;
use super::link::{EXCHANGE, Link};
use super::pump::{News, Pulse, Pump};
use super::scan::Scanner;
use crate::transport::{Arrival, Clock, Notice, Origin, Source, TransportError};
use btleplug::api::{Central, Peripheral as _};
use futures::future::BoxFuture;
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};
use tokio::task::JoinHandle;
use tokio_util::sync::CancellationToken;

/// Notifications of a live sensor.
pub struct BleStream {
    origin: Origin,
    clock: Clock,
    arrivals: UnboundedReceiver<Arrival>,
    stop: CancellationToken,
    keeper: Option<JoinHandle<Result<(), TransportError>>>,
    last_us: u64,
}

impl BleStream {
    pub(super) async fn start(
        link: Link,
        scanner: Scanner,
        rssi_dbm: Option<i16>,
        origin: Origin,
    ) -> Result<Self, TransportError> {
        let clock = Clock::start();
        let pulse = Pulse::default();
        let stop = CancellationToken::new();
        let (news, told) = unbounded_channel();
        let (out, arrivals) = unbounded_channel();
        // Listening comes before subscribing, so that not even the first notification is lost.
        let notes = link.peripheral.notifications();
        let notes = within(EXCHANGE, "listen to the sensor", notes).await?;
        let events = within(EXCHANGE, "listen to the host", scanner.adapter.events()).await?;
        let names = link.plan.names();
        let pump = Pump {
            clock,
            notes,
            names,
            pulse: pulse.clone(),
            out,
        };
        tokio::spawn(pump.run(told));
        if let Err(error) = link.begin().await {
            // The first failure is the one to tell.
            let _ = link.let_go().await;
            return Err(error);
        }
        if let Some(rssi_dbm) = rssi_dbm {
            // Many hosts tell it only while they scan. The pump, which listens, is there.
            let _ = news.send(News::Notice(Notice::Signal { rssi_dbm }));
        }
        let keeper = Keeper {
            link,
            scanner,
            address: origin.sensor.address.clone(),
            clock,
            pulse,
            news,
            stop: stop.clone(),
            events: Some(events),
            stale: false,
        };
        let keeper = Some(tokio::spawn(keeper.run()));
        Ok(Self {
            origin,
            clock,
            arrivals,
            stop,
            keeper,
            last_us: 0,
        })
    }

    async fn step(&mut self) -> Result<Option<Arrival>, TransportError> {
        if let Some(mut arrival) = self.arrivals.recv().await {
            // Two stamps of one moment may come in either order.
            match &mut arrival {
                Arrival::Packet(packet) => packet.t_us = self.in_order(packet.t_us),
                Arrival::Event(event) => event.t_us = self.in_order(event.t_us),
                Arrival::Notice(_) => {}
            }
            return Ok(Some(arrival));
        }
        // All is forwarded: the keeper has ended, by itself if nobody stopped it.
        self.end().await.map(|()| None)
    }

    fn in_order(&mut self, t_us: u64) -> u64 {
        self.last_us = self.last_us.max(t_us);
        self.last_us
    }

    async fn end(&mut self) -> Result<(), TransportError> {
        let Some(keeper) = &mut self.keeper else {
            return Ok(());
        };
        let ended = keeper.await;
        self.keeper = None;
        ended.unwrap_or_else(|error| {
            Err(TransportError::Radio {
                doing: "keep the link",
                detail: error.to_string(),
            })
        })
    }
}

impl Source for BleStream {
    fn origin(&self) -> &Origin {
        &self.origin
    }

    fn now_us(&self) -> u64 {
        self.clock.now_us().max(self.last_us)
    }

    fn next(&mut self) -> BoxFuture<'_, Result<Option<Arrival>, TransportError>> {
        Box::pin(self.step())
    }

    fn stop(&mut self) -> BoxFuture<'_, Result<(), TransportError>> {
        self.stop.cancel();
        Box::pin(self.end())
    }
}

impl Drop for BleStream {
    fn drop(&mut self) {
        // The tasks let go of the sensor and end by themselves.
        self.stop.cancel();
    }
}
