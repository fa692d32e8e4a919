//! How the stand-in answers the calls of the API, and what it tells by itself.

use crate::daemon::{HCI0, State};
use crate::peripheral::{OnConnect, Peripheral, device_path};
use crate::tree::{ADAPTER, CHARACTERISTIC, DESCRIPTOR, DEVICE, SERVICE, props, value};
use std::collections::BTreeMap;
use zbus::Message;
use zbus::message::Header;
use zbus::names::{InterfaceName, MemberName};
use zbus::zvariant::{ObjectPath, OwnedValue, Value};

impl State {
    pub async fn handle(&mut self, message: &Message) -> zbus::Result<()> {
        let header = message.header();
        let text = |part: Option<&str>| part.unwrap_or_default().to_owned();
        let path = text(header.path().map(ObjectPath::as_str));
        let interface = text(header.interface().map(InterfaceName::as_str));
        let member = text(header.member().map(MemberName::as_str));
        self.journal.push(format!("call {path} {member}"));
        if self.hung {
            return Ok(());
        }
        let played = self.next_of_script(&path, &member);
        if let Some(error) = self.refuse.get(&member).cloned() {
            return self.fail(&header, &error, "refused by the test").await;
        }
        let Some(lines) = played else {
            return self
                .serve(&header, (&path, &interface, &member), message)
                .await;
        };
        for line in lines {
            if line.starts_with("return ") {
                self.muted = true;
                let served = self
                    .serve(&header, (&path, &interface, &member), message)
                    .await;
                self.muted = false;
                served?;
            } else {
                self.play(&line).await?;
            }
        }
        Ok(())
    }

    async fn serve(
        &mut self,
        header: &Header<'_>,
        (path, interface, member): (&str, &str, &str),
        message: &Message,
    ) -> zbus::Result<()> {
        match (interface, member) {
            ("org.freedesktop.DBus.ObjectManager", "GetManagedObjects") => {
                let all = self.tree.managed();
                self.reply(header, &all).await
            }
            ("org.freedesktop.DBus.Introspectable", _) => match self.tree.introspect(path) {
                Some(xml) => self.reply(header, &xml).await,
                None => self.unknown(header).await,
            },
            ("org.freedesktop.DBus.Properties", "GetAll") => {
                let interface: String = message.body().deserialize()?;
                match self.tree.props(path, &interface).cloned() {
                    Some(props) => self.reply(header, &props).await,
                    None => self.unknown(header).await,
                }
            }
            ("org.freedesktop.DBus.Properties", "Get") => {
                let (interface, name): (String, String) = message.body().deserialize()?;
                let props = self.tree.props(path, &interface);
                match props.and_then(|props| props.get(&name)).cloned() {
                    Some(value) => self.reply(header, &value).await,
                    None => self.unknown(header).await,
                }
            }
            ("org.freedesktop.DBus.Properties", "Set") => {
                let body = message.body();
                let (interface, name, to): (String, String, Value<'_>) = body.deserialize()?;
                let to = value(to);
                self.reply(header, &()).await?;
                self.change(path, &interface, [(name.as_str(), to)]).await
            }
            (ADAPTER, _) => self.adapter_call(header, path, member).await,
            (DEVICE, _) => self.device_call(header, path, member).await,
            (CHARACTERISTIC, _) => {
                self.characteristic_call(header, path, member, message)
                    .await
            }
            (DESCRIPTOR, "ReadValue") => self.read(header, path, DESCRIPTOR).await,
            _ => self.unknown(header).await,
        }
    }

    async fn adapter_call(
        &mut self,
        to: &Header<'_>,
        path: &str,
        member: &str,
    ) -> zbus::Result<()> {
        if !self.tree.has(path, ADAPTER) {
            return self.unknown(to).await;
        }
        match member {
            "SetDiscoveryFilter" => self.reply(to, &()).await,
            "StartDiscovery" => {
                self.reply(to, &()).await?;
                self.discovering = true;
                self.change(path, ADAPTER, [("Discovering", value(true))])
                    .await?;
                self.advertise().await
            }
            "StopDiscovery" => {
                self.reply(to, &()).await?;
                self.discovering = false;
                self.forget_signals().await?;
                self.change(path, ADAPTER, [("Discovering", value(false))])
                    .await
            }
            _ => self.unknown(to).await,
        }
    }

    /// Signal strengths are known only while scanning: afterwards BlueZ takes them back.
    pub async fn forget_signals(&mut self) -> zbus::Result<()> {
        let paths: Vec<String> = self.tree.paths().cloned().collect();
        for path in paths {
            let Some(held) = self.tree.props_mut(&path, DEVICE) else {
                continue;
            };
            if held.remove("RSSI").is_some() {
                self.journal.push(format!("signal {path} -RSSI"));
                let none: BTreeMap<String, OwnedValue> = BTreeMap::new();
                let body = (DEVICE, none, vec!["RSSI"]);
                let properties = "org.freedesktop.DBus.Properties";
                self.bus
                    .emit_signal(None::<&str>, path, properties, "PropertiesChanged", &body)
                    .await?;
            }
        }
        Ok(())
    }

    async fn device_call(&mut self, to: &Header<'_>, path: &str, member: &str) -> zbus::Result<()> {
        let Some(at) = self
            .peripheral(path)
            .filter(|_| self.tree.has(path, DEVICE))
        else {
            return self.unknown(to).await;
        };
        match member {
            "Connect" => self.connect(to, path, at).await,
            "Disconnect" => {
                self.change(path, DEVICE, [("ServicesResolved", value(false))])
                    .await?;
                self.reply(to, &()).await?;
                self.link_ends(path);
                self.change(path, DEVICE, [("Connected", value(false))])
                    .await
            }
            _ => self.unknown(to).await,
        }
    }

    /// As BlueZ does it: connected, the answer, the services one by one, resolved.
    async fn connect(&mut self, to: &Header<'_>, path: &str, at: usize) -> zbus::Result<()> {
        let Some(peripheral) = self.peripherals.get(at).cloned() else {
            return Ok(());
        };
        if !peripheral.present {
            let text = "le-connection-abort-by-local";
            return self.fail(to, "org.bluez.Error.Failed", text).await;
        }
        match peripheral.on_connect {
            OnConnect::Refuse(text) => return self.fail(to, "org.bluez.Error.Failed", text).await,
            OnConnect::Hang => return Ok(()),
            OnConnect::NeverResolve | OnConnect::Accept => {}
        }
        self.change(path, DEVICE, [("Connected", value(true))])
            .await?;
        self.reply(to, &()).await?;
        if peripheral.on_connect == OnConnect::NeverResolve {
            return Ok(());
        }
        self.add_services(path, &peripheral).await?;
        if self.muted {
            return Ok(());
        }
        let uuids: Vec<String> = peripheral.services.iter().map(|s| s.uuid.clone()).collect();
        self.change(
            path,
            DEVICE,
            [("UUIDs", value(uuids)), ("ServicesResolved", value(true))],
        )
        .await
    }

    async fn add_services(&mut self, path: &str, peripheral: &Peripheral) -> zbus::Result<()> {
        let mut handle = 8_u32;
        for service in &peripheral.services {
            let service_path = format!("{path}/service{handle:04x}");
            handle += 1;
            let facts = props([("UUID", value(&service.uuid)), ("Primary", value(true))]);
            self.tree.add(&service_path, SERVICE, facts);
            self.added(&service_path).await?;
            for one in &service.characteristics {
                let char_path = format!("{service_path}/char{handle:04x}");
                handle += 2;
                let flags: Vec<String> = one.flags.iter().map(|&f| f.to_owned()).collect();
                let facts = props([
                    ("UUID", value(&one.uuid)),
                    ("Flags", value(flags)),
                    ("Value", value(one.value.clone())),
                    ("Notifying", value(false)),
                    ("MTU", value(one.mtu)),
                ]);
                self.tree.add(&char_path, CHARACTERISTIC, facts);
                self.added(&char_path).await?;
                for (uuid, bytes) in &one.descriptors {
                    let desc_path = format!("{char_path}/desc{handle:04x}");
                    handle += 1;
                    let facts = props([("UUID", value(uuid)), ("Value", value(bytes.clone()))]);
                    self.tree.add(&desc_path, DESCRIPTOR, facts);
                    self.added(&desc_path).await?;
                }
            }
        }
        Ok(())
    }

    async fn characteristic_call(
        &mut self,
        to: &Header<'_>,
        path: &str,
        member: &str,
        message: &Message,
    ) -> zbus::Result<()> {
        let Some(uuid) = self.uuid_of(path) else {
            return self.unknown(to).await;
        };
        match member {
            "ReadValue" => {
                if uuid == self.stream_uuid
                    && let Some(value_now) = self.firmware.read()
                {
                    self.sent.push(value_now.clone());
                    if let Some(held) = self.tree.props_mut(path, CHARACTERISTIC) {
                        held.insert("Value".to_owned(), value(value_now));
                    }
                }
                self.read(to, path, CHARACTERISTIC).await
            }
            "WriteValue" if uuid == self.command_uuid => {
                let body = message.body();
                let (bytes, _): (Vec<u8>, BTreeMap<String, OwnedValue>) = body.deserialize()?;
                self.journal.push(format!("written {bytes:02x?}"));
                match self.firmware.command(&bytes) {
                    Ok(()) => {
                        self.reply(to, &()).await?;
                        self.notify_answer().await
                    }
                    Err(text) => self.fail(to, "org.bluez.Error.Failed", &text).await,
                }
            }
            "WriteValue" => {
                self.fail(to, "org.bluez.Error.NotPermitted", "Write not permitted")
                    .await
            }
            "StartNotify" => {
                self.change(path, CHARACTERISTIC, [("Notifying", value(true))])
                    .await?;
                self.reply(to, &()).await?;
                if uuid == self.stream_uuid {
                    self.notifying = Some(path.to_owned());
                }
                Ok(())
            }
            "StopNotify" => {
                if self.notifying.as_deref() == Some(path) {
                    self.notifying = None;
                }
                self.change(path, CHARACTERISTIC, [("Notifying", value(false))])
                    .await?;
                self.reply(to, &()).await
            }
            _ => self.unknown(to).await,
        }
    }

    async fn read(&mut self, to: &Header<'_>, path: &str, interface: &str) -> zbus::Result<()> {
        let Some(bytes) = self
            .tree
            .props(path, interface)
            .and_then(|p| p.get("Value"))
        else {
            return self.unknown(to).await;
        };
        let bytes: Vec<u8> = bytes.clone().try_into().map_err(zbus::Error::from)?;
        if interface == CHARACTERISTIC {
            // BlueZ shows a value that was read as a change of the property.
            self.change(path, interface, [("Value", value(bytes.clone()))])
                .await?;
        }
        self.reply(to, &bytes).await
    }

    /// Sends the next notification if someone is subscribed and the device streams.
    pub async fn notify(&mut self) -> zbus::Result<()> {
        if !self.firmware.streaming() || self.silent {
            return Ok(());
        }
        let Some(path) = self.notifying.clone() else {
            return Ok(());
        };
        let payload = self.firmware.next();
        if self.swallow > 0 {
            self.swallow -= 1;
            return Ok(());
        }
        self.signal_value(&path, payload.clone()).await?;
        self.sent.push(payload);
        Ok(())
    }

    /// Sends what answers a command, if someone is subscribed.
    async fn notify_answer(&mut self) -> zbus::Result<()> {
        let answer = self.firmware.answer();
        let Some(path) = self.notifying.clone().filter(|_| !self.silent) else {
            return Ok(());
        };
        for payload in answer {
            self.signal_value(&path, payload.clone()).await?;
            self.sent.push(payload);
        }
        Ok(())
    }

    /// One value change of a characteristic, not kept in the journal: there are too many.
    pub async fn signal_value(&mut self, path: &str, payload: Vec<u8>) -> zbus::Result<()> {
        let changed = BTreeMap::from([("Value", Value::from(payload))]);
        let none: Vec<String> = Vec::new();
        let body = (CHARACTERISTIC, changed, none);
        let interface = "org.freedesktop.DBus.Properties";
        self.bus
            .emit_signal(None::<&str>, path, interface, "PropertiesChanged", &body)
            .await
    }

    /// Changes properties and says so.
    pub async fn change<const N: usize>(
        &mut self,
        path: &str,
        interface: &str,
        to: [(&str, OwnedValue); N],
    ) -> zbus::Result<()> {
        let Some(held) = self.tree.props_mut(path, interface) else {
            return Ok(());
        };
        let mut changed = BTreeMap::new();
        let mut words = Vec::new();
        for (name, value) in to {
            words.push(match bool::try_from(&value) {
                Ok(state) => format!("{name}={state}"),
                Err(_) => name.to_owned(),
            });
            held.insert(name.to_owned(), value.clone());
            changed.insert(name.to_owned(), value);
        }
        if self.muted {
            return Ok(());
        }
        self.journal
            .push(format!("signal {path} {}", words.join(",")));
        let none: Vec<String> = Vec::new();
        let body = (interface, &changed, none);
        let properties = "org.freedesktop.DBus.Properties";
        self.bus
            .emit_signal(None::<&str>, path, properties, "PropertiesChanged", &body)
            .await
    }

    pub async fn added(&mut self, path: &str) -> zbus::Result<()> {
        if self.muted {
            self.unannounced.push_back(path.to_owned());
            return Ok(());
        }
        self.journal.push(format!("signal {path} added"));
        let Some(interfaces) = self.tree.interfaces(path) else {
            return Ok(());
        };
        let object = ObjectPath::try_from(path)?;
        let manager = "org.freedesktop.DBus.ObjectManager";
        let body = (object, interfaces);
        self.bus
            .emit_signal(None::<&str>, "/", manager, "InterfacesAdded", &body)
            .await
    }

    pub async fn removed(&mut self, path: &str) -> zbus::Result<()> {
        for (path, interfaces) in self.tree.remove(path).into_iter().rev() {
            self.journal.push(format!("signal {path} removed"));
            let object = ObjectPath::try_from(path.as_str())?;
            let manager = "org.freedesktop.DBus.ObjectManager";
            let body = (object, interfaces);
            self.bus
                .emit_signal(None::<&str>, "/", manager, "InterfacesRemoved", &body)
                .await?;
        }
        Ok(())
    }

    /// Shows the peripherals in range to whoever scans.
    pub async fn advertise(&mut self) -> zbus::Result<()> {
        if !self.discovering || !self.tree.has(HCI0, ADAPTER) {
            return Ok(());
        }
        for peripheral in self.peripherals.clone() {
            let path = device_path(HCI0, &peripheral.address);
            if !peripheral.present {
                continue;
            }
            if self.tree.has(&path, DEVICE) {
                self.change(&path, DEVICE, [("RSSI", value(peripheral.rssi))])
                    .await?;
                continue;
            }
            let facts = props([
                ("Address", value(&peripheral.address)),
                ("AddressType", value("public")),
                ("Name", value(&peripheral.name)),
                ("Alias", value(&peripheral.name)),
                ("Paired", value(false)),
                ("Bonded", value(false)),
                ("Trusted", value(false)),
                ("Blocked", value(false)),
                ("LegacyPairing", value(false)),
                ("RSSI", value(peripheral.rssi)),
                ("Connected", value(false)),
                ("UUIDs", value(peripheral.advertises.clone())),
                ("ServicesResolved", value(false)),
            ]);
            self.tree.add(&path, DEVICE, facts);
            self.added(&path).await?;
        }
        Ok(())
    }

    /// Whether there is a link to the device.
    pub fn connected(&self, path: &str) -> bool {
        let connected = self
            .tree
            .props(path, DEVICE)
            .and_then(|props| props.get("Connected"));
        connected.is_some_and(|value| bool::try_from(value).unwrap_or(false))
    }

    fn peripheral(&self, path: &str) -> Option<usize> {
        self.peripherals
            .iter()
            .position(|p| device_path(HCI0, &p.address) == path)
    }

    fn uuid_of(&self, path: &str) -> Option<String> {
        let value = self.tree.props(path, CHARACTERISTIC)?.get("UUID")?;
        String::try_from(value.clone()).ok()
    }

    async fn reply<B>(&mut self, to: &Header<'_>, body: &B) -> zbus::Result<()>
    where
        B: serde::Serialize + zbus::zvariant::DynamicType,
    {
        let path = to.path().map(ToString::to_string).unwrap_or_default();
        let member = to.member().map(ToString::to_string).unwrap_or_default();
        self.journal.push(format!("return {path} {member}"));
        self.bus.reply(to, body).await
    }

    async fn unknown(&self, to: &Header<'_>) -> zbus::Result<()> {
        self.fail(
            to,
            "org.freedesktop.DBus.Error.UnknownObject",
            "Method doesn't exist",
        )
        .await
    }

    pub async fn fail(&self, to: &Header<'_>, name: &str, text: &str) -> zbus::Result<()> {
        self.bus.reply_error(to, name, &text).await
    }
}
