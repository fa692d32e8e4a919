//! Speaking in the very order in which a real daemon spoke.

use crate::daemon::{HCI0, State};
use crate::peripheral::device_path;
use crate::tree::{ADAPTER, DEVICE, props, value};
use std::collections::BTreeMap;
use zbus::zvariant::{ObjectPath, OwnedValue, Value};

/// What a client may or may not ask, as often as it likes: no part of a script.
const ASKED_FREELY: [&str; 4] = ["Get", "GetAll", "GetManagedObjects", "ReadValue"];

/// A section of fixtures/radio/bluez-order.txt, without what a client asks freely and without the
/// notifications, which the firmware makes.
pub fn section(name: &str) -> Vec<String> {
    let text = include_str!("../../fixtures/radio/bluez-order.txt");
    let free = |line: &str| {
        let below = line.starts_with("call dev/") || line.starts_with("return dev/");
        let word = line.rsplit(' ').next().unwrap_or_default();
        ASKED_FREELY.contains(&word) || (below && word == "Introspect") || line.ends_with(" Value")
    };
    text.lines()
        .skip_while(|line| *line != format!("[{name}]"))
        .skip(1)
        .take_while(|line| !line.starts_with('['))
        .filter(|line| !line.is_empty() && !free(line))
        .map(str::to_owned)
        .collect()
}

impl State {
    /// The lines that follow the call if it is the one that the script waits for, up to the next
    /// call.
    pub fn next_of_script(&mut self, path: &str, member: &str) -> Option<Vec<String>> {
        let waits_for = self.script.front()?;
        let (_, at) = waits_for.strip_prefix("call ")?.split_once(' ')?;
        let ours = path.starts_with(HCI0) && at == member;
        if !ours {
            return None;
        }
        self.script.pop_front();
        let mut lines = Vec::new();
        while self
            .script
            .front()
            .is_some_and(|line| !line.starts_with("call "))
        {
            lines.extend(self.script.pop_front());
        }
        Some(lines)
    }

    /// Makes the signal of a script's line.
    pub async fn play(&mut self, line: &str) -> zbus::Result<()> {
        let mut words = line.split(' ');
        let (kind, object, what) = (words.next(), words.next(), words.next());
        let (Some("signal"), Some(object), Some(what)) = (kind, object, what) else {
            return Ok(());
        };
        let device = device_path(HCI0, crate::reference::ADDRESS);
        match (object, what) {
            ("dev", "added") => self.advertise().await,
            ("dev", "-RSSI") => self.forget_signals().await,
            (below, "added") if below.starts_with("dev/") => match self.unannounced.pop_front() {
                Some(path) => self.added(&path).await,
                None => Ok(()),
            },
            ("dev" | "hci0", "removed") => {
                let path = if object == "dev" {
                    device.as_str()
                } else {
                    HCI0
                };
                self.removed(path).await
            }
            (_, "removed") => Ok(()),
            ("dev", changes) => {
                if changes.contains("ServicesResolved=true") {
                    // This sensor has more services than the one in the log.
                    while let Some(path) = self.unannounced.pop_front() {
                        self.added(&path).await?;
                    }
                }
                if changes.contains("Connected=false") {
                    self.link_ends(&device);
                }
                for change in changes.split(',') {
                    let (name, to) = named(change);
                    self.change(&device, DEVICE, [(name, to)]).await?;
                }
                Ok(())
            }
            ("hci0", changes) => {
                for change in changes.split(',') {
                    let (name, to) = named(change);
                    self.change(HCI0, ADAPTER, [(name, to)]).await?;
                }
                Ok(())
            }
            // The sensor's own side of the link, which a client hears too if it listens.
            (_, "added") => self.elsewhere_added().await,
            (below, changes) if below.starts_with("dev/") && changes.starts_with("Notifying") => {
                Ok(())
            }
            (_, changes) => self.elsewhere_changed(changes).await,
        }
    }

    async fn elsewhere_added(&mut self) -> zbus::Result<()> {
        let path = ObjectPath::try_from("/org/bluez/hci1/dev_00_AA_01_00_00_00")?;
        let facts = props([
            ("Address", value("00:AA:01:00:00:00")),
            ("Connected", value(true)),
        ]);
        let body = (path, BTreeMap::from([(DEVICE, facts)]));
        let manager = "org.freedesktop.DBus.ObjectManager";
        self.bus
            .emit_signal(None::<&str>, "/", manager, "InterfacesAdded", &body)
            .await
    }

    async fn elsewhere_changed(&mut self, changes: &str) -> zbus::Result<()> {
        let path = "/org/bluez/hci1/dev_00_AA_01_00_00_00";
        let changed: BTreeMap<&str, OwnedValue> = changes.split(',').map(named).collect();
        let none: Vec<String> = Vec::new();
        let body = (DEVICE, changed, none);
        let interface = "org.freedesktop.DBus.Properties";
        self.bus
            .emit_signal(None::<&str>, path, interface, "PropertiesChanged", &body)
            .await
    }
}

/// Name and value of a property as a script's line has it.
fn named(change: &str) -> (&str, OwnedValue) {
    match change.split_once('=') {
        Some((name, state)) => (name, value(state == "true")),
        None if change == "UUIDs" => (change, value(vec![crate::reference::SERVICE.to_owned()])),
        None => (change, value(Value::from("BlueZ 5.66"))),
    }
}
