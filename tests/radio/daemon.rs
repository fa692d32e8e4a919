//! A stand-in for the Bluetooth daemon: the object tree and the methods of the D-Bus API that
//! BlueZ 5.66 publishes in its `doc/adapter-api.txt`, `device-api.txt` and `gatt-api.txt`, with a
//! peripheral behind it whose faults a test commands.

use crate::peripheral::{Firmware, Peripheral};
use crate::tree::{ADAPTER, Props, Tree, props, value};
use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::Mutex;
use tokio::task::JoinHandle;
use tokio_util::sync::CancellationToken;
use zbus::message::Type;
use zbus::{Connection, MessageStream};

pub const HCI0: &str = "/org/bluez/hci0";
/// Longest wait for what must come.
pub const PATIENCE: Duration = Duration::from_secs(30);

/// The stand-in; ends with this value.
pub struct Daemon {
    pub state: Arc<Mutex<State>>,
    stop: CancellationToken,
    tasks: Vec<JoinHandle<()>>,
}

/// Everything the stand-in knows. Held locked while a message goes out, so that what goes out is
/// in one order.
pub struct State {
    pub bus: Connection,
    pub tree: Tree,
    pub peripherals: Vec<Peripheral>,
    pub firmware: Box<dyn Firmware>,
    /// UUIDs of the characteristics that stream and take commands.
    pub stream_uuid: String,
    pub command_uuid: String,
    /// Path of the streaming characteristic, while someone is subscribed.
    pub notifying: Option<String>,
    pub discovering: bool,
    /// Every payload that went out to a subscribed client, in order.
    pub sent: Vec<Vec<u8>>,
    /// Notifications still to be swallowed on the way.
    pub swallow: u32,
    pub silent: bool,
    /// Members of the API that are answered with this error.
    pub refuse: BTreeMap<String, String>,
    /// Every method call and signal, in order: `call /path Member`, `signal /path What`.
    pub journal: Vec<String>,
    /// No call is answered any more: a daemon that hangs.
    pub hung: bool,
    /// Signals are held back: a script says when they come.
    pub muted: bool,
    /// Objects that were added while signals are held back.
    pub unannounced: VecDeque<String>,
    /// What is still to be spoken as a real daemon spoke.
    pub script: VecDeque<String>,
}

/// How to set one up.
pub struct Setup {
    pub adapters: Vec<(&'static str, bool)>,
    pub peripherals: Vec<Peripheral>,
    pub firmware: Box<dyn Firmware>,
    pub stream_uuid: String,
    pub command_uuid: String,
}

impl Daemon {
    /// Puts it on the bus under BlueZ's name.
    pub async fn start(address: &str, setup: Setup) -> Self {
        let bus = zbus::connection::Builder::address(address)
            .expect("the bus's address")
            .build()
            .await
            .expect("joins the bus");
        let messages = MessageStream::from(&bus);
        let mut tree = Tree::default();
        tree.add("/org/bluez", "org.bluez.AgentManager1", Props::new());
        for (name, powered) in &setup.adapters {
            tree.add(
                &format!("/org/bluez/{name}"),
                ADAPTER,
                adapter(name, *powered),
            );
        }
        let state = Arc::new(Mutex::new(State {
            bus: bus.clone(),
            tree,
            peripherals: setup.peripherals,
            firmware: setup.firmware,
            stream_uuid: setup.stream_uuid,
            command_uuid: setup.command_uuid,
            notifying: None,
            discovering: false,
            sent: Vec::new(),
            swallow: 0,
            silent: false,
            refuse: BTreeMap::new(),
            journal: Vec::new(),
            hung: false,
            muted: false,
            unannounced: VecDeque::new(),
            script: VecDeque::new(),
        }));
        bus.request_name("org.bluez")
            .await
            .expect("the name is free");
        let stop = CancellationToken::new();
        let tasks = vec![
            tokio::spawn(answer(messages, Arc::clone(&state), stop.clone())),
            tokio::spawn(stream(Arc::clone(&state), stop.clone())),
        ];
        Self { state, stop, tasks }
    }

    /// Ends it: the name leaves the bus, nobody answers any more. Gives what had been sent.
    pub async fn end(mut self) -> Option<Vec<Vec<u8>>> {
        self.stop.cancel();
        for task in self.tasks.drain(..) {
            task.await.expect("no panic in the stand-in");
        }
        let bus = self.state.lock().await.bus.clone();
        bus.release_name("org.bluez").await.ok()?;
        drop(bus);
        let state = Arc::clone(&self.state);
        drop(self);
        let state = Arc::try_unwrap(state).ok()?.into_inner();
        state.bus.close().await.ok()?;
        Some(state.sent)
    }
}

impl Drop for Daemon {
    fn drop(&mut self) {
        self.stop.cancel();
    }
}

fn adapter(name: &str, powered: bool) -> Props {
    props([
        ("Address", value("00:AA:01:00:00:00")),
        ("AddressType", value("public")),
        ("Name", value(name)),
        ("Alias", value(name)),
        ("Class", value(0_u32)),
        ("Powered", value(powered)),
        ("Discoverable", value(false)),
        ("Pairable", value(false)),
        ("Discovering", value(false)),
        ("Modalias", value("usb:v1D6Bp0246d0542")),
    ])
}

/// Answers every method call.
async fn answer(mut messages: MessageStream, state: Arc<Mutex<State>>, stop: CancellationToken) {
    loop {
        let message = tokio::select! {
            () = stop.cancelled() => return,
            message = futures::StreamExt::next(&mut messages) => message,
        };
        let Some(Ok(message)) = message else { return };
        if message.message_type() != Type::MethodCall {
            continue;
        }
        // A bus that was killed under us takes the answers with it.
        let _ = state.lock().await.handle(&message).await;
    }
}

/// Sends the notifications, each when it is due.
async fn stream(state: Arc<Mutex<State>>, stop: CancellationToken) {
    let period = state.lock().await.firmware.period();
    let mut ticks = tokio::time::interval(period);
    loop {
        tokio::select! {
            () = stop.cancelled() => return,
            _ = ticks.tick() => {}
        }
        let _ = state.lock().await.notify().await;
    }
}

/// Waits until `holds` is true of the state; a test that waits in vain fails by its time limit.
pub async fn until(daemon: &Daemon, what: &str, mut holds: impl FnMut(&State) -> bool) {
    let waiting = async {
        while !holds(&*daemon.state.lock().await) {
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
    };
    if tokio::time::timeout(PATIENCE, waiting).await.is_err() {
        let state = daemon.state.lock().await;
        let tail: Vec<_> = state.journal.iter().rev().take(20).rev().collect();
        panic!("waited {PATIENCE:?} in vain: {what}; last on the bus: {tail:#?}");
    }
}
