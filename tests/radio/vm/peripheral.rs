//! The reference sensor as a GATT peripheral on a real Bluetooth daemon: an application of
//! `org.bluez.GattManager1` with an advertisement of `org.bluez.LEAdvertisingManager1` (BlueZ 5.66,
//! `doc/gatt-api.txt`, `doc/advertising-api.txt`). Runs in the virtual machine of `run.sh`.

#[path = "../peripheral.rs"]
#[allow(dead_code, reason = "shared with the stand-in")]
mod peripheral;
#[path = "../reference.rs"]
#[allow(dead_code, reason = "shared with the stand-in")]
mod reference;
#[path = "../tree.rs"]
#[allow(dead_code, reason = "shared with the stand-in")]
mod tree;

use peripheral::Firmware;
use reference::Reference;
use std::collections::BTreeMap;
use std::sync::Arc;
use tokio::sync::Mutex;
use tree::{CHARACTERISTIC, DESCRIPTOR, Props, SERVICE, Tree, props, value};
use zbus::message::{Header, Type};
use zbus::zvariant::{ObjectPath, OwnedValue, Value};
use zbus::{Connection, Message, MessageStream};

const APP: &str = "/sensor";
const ADVERTISEMENT: &str = "/advertisement";

struct Sensor {
    bus: Connection,
    tree: Tree,
    firmware: Reference,
    notifying: Option<String>,
    /// The daemon has dropped the advertisement: its adapter was switched off.
    released: bool,
    sent: u64,
}

#[tokio::main]
async fn main() -> zbus::Result<()> {
    let mut words = std::env::args().skip(1);
    let adapter = format!(
        "/org/bluez/{}",
        words.next().unwrap_or_else(|| "hci1".to_owned())
    );
    let rate_hz = words.next().and_then(|hz| hz.parse().ok()).unwrap_or(500.0);
    let bus = Connection::system().await?;
    let messages = MessageStream::from(&bus);
    let firmware = match words.next().as_deref() {
        Some("at-rest") => Reference::at_rest(rate_hz),
        _ => Reference::new(rate_hz),
    };
    let period = firmware.period();
    let sensor = Sensor {
        bus: bus.clone(),
        tree: objects(),
        firmware,
        notifying: None,
        released: false,
        sent: 0,
    };
    let sensor = Arc::new(Mutex::new(sensor));
    tokio::spawn(answer(messages, Arc::clone(&sensor)));
    advertise(&bus, &adapter).await?;
    println!("peripheral: advertising on {adapter}, {rate_hz} samples a second");
    let mut ticks = tokio::time::interval(period);
    let mut again = tokio::time::interval(std::time::Duration::from_secs(1));
    loop {
        tokio::select! {
            _ = ticks.tick() => sensor.lock().await.notify().await?,
            _ = again.tick() => {
                let released = sensor.lock().await.released;
                if released && hand_over(&bus, &adapter, ADVERTISEMENT).await.is_ok() {
                    sensor.lock().await.released = false;
                    println!("peripheral: advertising again");
                }
            }
        }
    }
}

/// Switches the adapter on, names it, hands the application and the advertisement over.
async fn advertise(bus: &Connection, adapter: &str) -> zbus::Result<()> {
    let name = reference::peripheral().name;
    for (property, to) in [("Powered", Value::from(true)), ("Alias", Value::from(name))] {
        let body = ("org.bluez.Adapter1", property, to);
        let properties = Some("org.freedesktop.DBus.Properties");
        bus.call_method(Some("org.bluez"), adapter, properties, "Set", &body)
            .await?;
    }
    hand_over(bus, adapter, APP).await?;
    hand_over(bus, adapter, ADVERTISEMENT).await
}

async fn hand_over(bus: &Connection, adapter: &str, object: &str) -> zbus::Result<()> {
    let (manager, method) = match object {
        APP => ("org.bluez.GattManager1", "RegisterApplication"),
        _ => ("org.bluez.LEAdvertisingManager1", "RegisterAdvertisement"),
    };
    let none: BTreeMap<&str, Value<'_>> = BTreeMap::new();
    let body = (ObjectPath::try_from(object)?, &none);
    bus.call_method(Some("org.bluez"), adapter, Some(manager), method, &body)
        .await?;
    Ok(())
}

/// The services of the reference sensor, as objects of an application.
fn objects() -> Tree {
    let sensor = reference::peripheral();
    let mut tree = Tree::default();
    let object = |path: &str| value(ObjectPath::try_from(path).expect("a path").into_owned());
    for (s, service) in sensor.services.iter().enumerate() {
        let path = format!("{APP}/service{s}");
        let facts = props([("UUID", value(&service.uuid)), ("Primary", value(true))]);
        tree.add(&path, SERVICE, facts);
        for (c, one) in service.characteristics.iter().enumerate() {
            let char_path = format!("{path}/char{c}");
            let flags: Vec<String> = one.flags.iter().map(|&flag| flag.to_owned()).collect();
            let facts = props([
                ("UUID", value(&one.uuid)),
                ("Service", object(&path)),
                ("Flags", value(flags)),
                ("Value", value(one.value.clone())),
            ]);
            tree.add(&char_path, CHARACTERISTIC, facts);
            // The daemon makes the descriptor 0x2902 itself.
            let own = one
                .descriptors
                .iter()
                .filter(|(uuid, _)| *uuid != peripheral::short(0x2902));
            for (d, (uuid, bytes)) in own.enumerate() {
                let facts = props([
                    ("UUID", value(uuid)),
                    ("Characteristic", object(&char_path)),
                    ("Flags", value(vec!["read".to_owned()])),
                    ("Value", value(bytes.clone())),
                ]);
                tree.add(&format!("{char_path}/desc{d}"), DESCRIPTOR, facts);
            }
        }
    }
    let facts = props([
        ("Type", value("peripheral")),
        ("ServiceUUIDs", value(sensor.advertises)),
        ("LocalName", value(sensor.name)),
    ]);
    tree.add(ADVERTISEMENT, "org.bluez.LEAdvertisement1", facts);
    tree
}

async fn answer(mut messages: MessageStream, sensor: Arc<Mutex<Sensor>>) {
    while let Some(Ok(message)) = futures::StreamExt::next(&mut messages).await {
        if message.message_type() == Type::MethodCall
            && let Err(error) = sensor.lock().await.handle(&message).await
        {
            println!("peripheral: {error}");
        }
    }
}

impl Sensor {
    async fn handle(&mut self, message: &Message) -> zbus::Result<()> {
        let header = message.header();
        let path = header.path().map(ToString::to_string).unwrap_or_default();
        let member = header.member().map(ToString::to_string).unwrap_or_default();
        match member.as_str() {
            "GetManagedObjects" => {
                let mut all = self.tree.managed();
                all.retain(|path, _| path.as_str().starts_with(APP));
                self.bus.reply(&header, &all).await
            }
            "GetAll" => {
                let interface: String = message.body().deserialize()?;
                let none = Props::new();
                let props = self.tree.props(&path, &interface).unwrap_or(&none);
                self.bus.reply(&header, props).await
            }
            "ReadValue" => self.read(&header, &path).await,
            "WriteValue" => {
                let body = message.body();
                let (bytes, _): (Vec<u8>, BTreeMap<String, OwnedValue>) = body.deserialize()?;
                println!("peripheral: command {bytes:02x?}");
                match self.firmware.command(&bytes) {
                    Ok(()) => self.bus.reply(&header, &()).await,
                    Err(text) => {
                        self.bus
                            .reply_error(&header, "org.bluez.Error.Failed", &text)
                            .await
                    }
                }
            }
            "Release" => {
                self.released = true;
                self.notifying = None;
                self.firmware.disconnected();
                self.bus.reply(&header, &()).await
            }
            "StartNotify" | "StopNotify" => {
                self.bus.reply(&header, &()).await?;
                if self.uuid_of(&path).as_deref() == Some(reference::STREAM) {
                    self.notifying = (member == "StartNotify").then_some(path);
                    println!("peripheral: {member}, {} sent so far", self.sent);
                }
                Ok(())
            }
            _ => self.bus.reply(&header, &()).await,
        }
    }

    async fn read(&self, to: &Header<'_>, path: &str) -> zbus::Result<()> {
        let held = [CHARACTERISTIC, DESCRIPTOR]
            .iter()
            .find_map(|interface| self.tree.props(path, interface)?.get("Value"));
        let bytes: Vec<u8> = match held {
            Some(held) => held.clone().try_into().map_err(zbus::Error::from)?,
            None => Vec::new(),
        };
        self.bus.reply(to, &bytes).await
    }

    async fn notify(&mut self) -> zbus::Result<()> {
        let Some(path) = self.notifying.clone().filter(|_| self.firmware.streaming()) else {
            return Ok(());
        };
        let payload = self.firmware.next();
        self.sent += 1;
        let changed = BTreeMap::from([("Value", Value::from(payload))]);
        let none: Vec<String> = Vec::new();
        let body = (CHARACTERISTIC, changed, none);
        let interface = "org.freedesktop.DBus.Properties";
        self.bus
            .emit_signal(None::<&str>, path, interface, "PropertiesChanged", &body)
            .await
    }

    fn uuid_of(&self, path: &str) -> Option<String> {
        let value = self.tree.props(path, CHARACTERISTIC)?.get("UUID")?;
        String::try_from(value.clone()).ok()
    }
}
