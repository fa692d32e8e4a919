//! The objects that a Bluetooth daemon shows on the bus, and how one asks for them.

use std::collections::{BTreeMap, HashMap};
use std::fmt::Write;
use zbus::zvariant::{OwnedObjectPath, OwnedValue, Value};

pub type Props = BTreeMap<String, OwnedValue>;
pub type Interfaces = BTreeMap<String, Props>;

pub const ADAPTER: &str = "org.bluez.Adapter1";
pub const DEVICE: &str = "org.bluez.Device1";
pub const SERVICE: &str = "org.bluez.GattService1";
pub const CHARACTERISTIC: &str = "org.bluez.GattCharacteristic1";
pub const DESCRIPTOR: &str = "org.bluez.GattDescriptor1";

/// An owned D-Bus value of anything that can be one.
pub fn value<'a>(from: impl Into<Value<'a>>) -> OwnedValue {
    OwnedValue::try_from(from.into()).expect("no file descriptors among the values")
}

pub fn props<const N: usize>(from: [(&str, OwnedValue); N]) -> Props {
    from.into_iter()
        .map(|(name, value)| (name.to_owned(), value))
        .collect()
}

/// Objects by path.
#[derive(Default)]
pub struct Tree(BTreeMap<String, Interfaces>);

impl Tree {
    pub fn add(&mut self, path: &str, interface: &str, props: Props) {
        self.0
            .entry(path.to_owned())
            .or_default()
            .insert(interface.to_owned(), props);
    }

    /// Takes out `path` and all below it; gives what was there.
    pub fn remove(&mut self, path: &str) -> Vec<(String, Vec<String>)> {
        let below = format!("{path}/");
        let gone: Vec<String> = self
            .0
            .keys()
            .filter(|p| *p == path || p.starts_with(&below))
            .cloned()
            .collect();
        gone.into_iter()
            .filter_map(|path| {
                let interfaces = self.0.remove(&path)?;
                Some((path, interfaces.into_keys().collect()))
            })
            .collect()
    }

    pub fn has(&self, path: &str, interface: &str) -> bool {
        self.0
            .get(path)
            .is_some_and(|interfaces| interfaces.contains_key(interface))
    }

    pub fn props(&self, path: &str, interface: &str) -> Option<&Props> {
        self.0.get(path)?.get(interface)
    }

    pub fn props_mut(&mut self, path: &str, interface: &str) -> Option<&mut Props> {
        self.0.get_mut(path)?.get_mut(interface)
    }

    pub fn interfaces(&self, path: &str) -> Option<&Interfaces> {
        self.0.get(path)
    }

    pub fn paths(&self) -> impl Iterator<Item = &String> {
        self.0.keys()
    }

    pub fn managed(&self) -> HashMap<OwnedObjectPath, Interfaces> {
        self.0
            .iter()
            .filter_map(|(path, interfaces)| {
                Some((
                    OwnedObjectPath::try_from(path.as_str()).ok()?,
                    interfaces.clone(),
                ))
            })
            .collect()
    }

    /// The introspection document: interfaces and the nodes right below.
    pub fn introspect(&self, path: &str) -> Option<String> {
        let interfaces = self.0.get(path)?;
        let mut xml = String::from(
            "<!DOCTYPE node PUBLIC \"-//freedesktop//DTD D-BUS Object Introspection 1.0//EN\"\n\
             \"http://www.freedesktop.org/standards/dbus/1.0/introspect.dtd\">\n<node>",
        );
        for name in interfaces.keys() {
            write!(xml, "<interface name=\"{name}\"></interface>").expect("to a string");
        }
        let below = format!("{path}/");
        for child in self
            .0
            .range(below.clone()..)
            .map(|(p, _)| p)
            .take_while(|p| p.starts_with(&below))
        {
            let name = &child[below.len()..];
            if !name.contains('/') {
                write!(xml, "<node name=\"{name}\"/>").expect("to a string");
            }
        }
        xml.push_str("</node>");
        Some(xml)
    }
}
