//! A bus, a daemon with the reference sensor behind it, and the program: what every scenario
//! starts from.

use crate::bus::Bus;
use crate::daemon::{Daemon, PATIENCE, until};
use crate::find::setup;
use crate::peripheral::{Peripheral, device_path};
use crate::reference::{self, ADDRESS};
use crate::tool::{Running, Tool};
use needlerest::protocol::STREAM;
use needlerest::recording::{Event, Header, Packet, Record, SealState, open};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio::time::sleep;

pub struct Stage {
    pub bus: Bus,
    /// None while a test has ended it.
    pub daemon: Option<Daemon>,
    pub tool: Tool,
}

impl Stage {
    /// None when this machine has no message bus.
    pub async fn set() -> Option<Self> {
        Self::with(reference::peripheral()).await
    }

    pub async fn with(peripheral: Peripheral) -> Option<Self> {
        let bus = Bus::start("")?;
        let daemon = Daemon::start(&bus.address, setup(vec![peripheral])).await;
        let tool = Tool::new(&bus.address);
        Some(Self {
            bus,
            daemon: Some(daemon),
            tool,
        })
    }

    pub fn daemon(&self) -> &Daemon {
        self.daemon.as_ref().expect("the daemon runs")
    }

    pub fn file(&self) -> PathBuf {
        self.tool.folder().join("session.nrs")
    }

    /// Starts recording and waits until so many notifications went out.
    pub async fn recording(&self, more: &[&str], packets: usize) -> Running {
        let file = self.file();
        let mut args = vec!["record", file.to_str().expect("UTF-8")];
        args.extend(more);
        let running = self.tool.start(&args);
        self.until_sent(packets).await;
        running
    }

    /// Waits until this many more notifications have gone out.
    pub async fn until_sent(&self, more: usize) {
        let goal = self.daemon().state.lock().await.sent.len() + more;
        until(self.daemon(), "notifications go out", |state| {
            state.sent.len() >= goal
        })
        .await;
    }

    /// Sends so many notifications of the stream as fast as the bus takes them.
    pub async fn send_now(&self, notifications: usize) {
        let mut state = self.daemon().state.lock().await;
        let path = state.notifying.clone().expect("subscribed");
        for _ in 0..notifications {
            let payload = state.firmware.next();
            let sent = state.signal_value(&path, payload.clone()).await;
            sent.expect("the bus holds");
            state.sent.push(payload);
        }
    }

    /// Waits until the recording, still being written, holds what is looked for.
    pub async fn until_recorded(&self, what: &str, holds: impl Fn(&Recorded) -> bool) {
        let waiting = async {
            while !holds(&Recorded::read(&self.file())) {
                sleep(Duration::from_millis(50)).await;
            }
        };
        let waited = tokio::time::timeout(PATIENCE, waiting).await;
        assert!(waited.is_ok(), "waited {PATIENCE:?} in vain: {what}");
    }

    /// What went out, and what was recorded.
    pub async fn compare(&self) -> Recorded {
        let recorded = Recorded::read(&self.file());
        let sent = self.daemon().state.lock().await.sent.clone();
        recorded.holds_all(&sent);
        recorded
    }

    /// No subscription, no connection, no streaming sensor is left behind.
    pub async fn nothing_is_left(&self) {
        let state = self.daemon().state.lock().await;
        assert!(state.notifying.is_none(), "a subscription is left behind");
        assert!(!state.firmware.streaming(), "the sensor still streams");
        assert!(
            !state.connected(&device_path(crate::daemon::HCI0, ADDRESS)),
            "still connected"
        );
    }
}

/// A recording, read back.
pub struct Recorded {
    pub header: Header,
    pub packets: Vec<Packet>,
    pub events: Vec<Event>,
    pub damaged: usize,
    pub seal: SealState,
}

impl Recorded {
    pub fn read(path: &Path) -> Self {
        let mut reader = open(path).expect("a recording");
        let header = reader.header().clone();
        let (mut packets, mut events, mut damaged) = (Vec::new(), Vec::new(), 0);
        for line in reader.by_ref() {
            match line.expect("reads").outcome {
                Ok(Record::Packet(packet)) => packets.push(packet),
                Ok(Record::Event(event)) => events.push(event.event),
                Ok(_) => {}
                Err(_) => damaged += 1,
            }
        }
        let seal = reader.seal().clone();
        Self {
            header,
            packets,
            events,
            damaged,
            seal,
        }
    }

    /// Every payload that was sent to a subscribed client is there, once, in order; the stamps
    /// never go back.
    pub fn holds_all(&self, sent: &[Vec<u8>]) {
        let stream: Vec<&Vec<u8>> = self
            .packets
            .iter()
            .filter(|p| p.from == STREAM)
            .map(|p| &p.hex)
            .collect();
        let first_off = stream
            .iter()
            .zip(sent)
            .position(|(ours, theirs)| *ours != theirs);
        assert_eq!(
            first_off,
            None,
            "{} of {} sent packets",
            stream.len(),
            sent.len()
        );
        assert_eq!(
            stream.len(),
            sent.len(),
            "packets are missing at the end (or came twice)"
        );
        assert!(self.packets.is_sorted_by_key(|p| p.t_us), "stamps go back");
    }

    pub fn sealed(&self) -> &Self {
        assert!(
            matches!(self.seal, SealState::Holds { .. }),
            "{:?}",
            self.seal
        );
        assert_eq!(self.damaged, 0, "damaged lines");
        self
    }

    /// How many notifications of the stream there are.
    pub fn notified(&self) -> usize {
        self.packets.iter().filter(|p| p.from == STREAM).count()
    }

    pub fn count(&self, what: &Event) -> usize {
        self.events.iter().filter(|event| *event == what).count()
    }
}
