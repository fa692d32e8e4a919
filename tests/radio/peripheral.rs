//! What stands on the other end of the link, and how it (mis)behaves.

use std::time::Duration;

/// A peripheral as the daemon knows it.
#[derive(Clone)]
pub struct Peripheral {
    pub address: String,
    pub name: String,
    /// Advertised service UUIDs.
    pub advertises: Vec<String>,
    pub rssi: i16,
    pub services: Vec<Service>,
    pub on_connect: OnConnect,
    /// In range: found by a scan.
    pub present: bool,
}

#[derive(Clone)]
pub struct Service {
    pub uuid: String,
    pub characteristics: Vec<Characteristic>,
}

#[derive(Clone)]
pub struct Characteristic {
    pub uuid: String,
    pub flags: Vec<&'static str>,
    pub value: Vec<u8>,
    pub descriptors: Vec<(String, Vec<u8>)>,
    pub mtu: u16,
}

/// What comes of `Connect`.
#[derive(Clone, Copy, PartialEq)]
pub enum OnConnect {
    /// The link comes up and the services are resolved.
    Accept,
    /// An error at once.
    Refuse(&'static str),
    /// No answer at all.
    Hang,
    /// The link comes up, the services never do.
    NeverResolve,
}

/// The device's own program: makes the notifications.
pub trait Firmware: Send + Sync {
    /// A write to the command characteristic; `Err` is the ATT error's text.
    fn command(&mut self, bytes: &[u8]) -> Result<(), String>;
    /// It streams now (after its start command).
    fn streaming(&self) -> bool;
    /// The link went: a sensor stops streaming and waits for the next connection.
    fn disconnected(&mut self);
    /// The next notification.
    fn next(&mut self) -> Vec<u8>;
    /// What reading the streaming characteristic gives, if that is how pressure is had.
    fn read(&mut self) -> Option<Vec<u8>> {
        None
    }
    /// The notifications that answer the command just taken.
    fn answer(&mut self) -> Vec<Vec<u8>> {
        Vec::new()
    }
    /// From one notification to the next.
    fn period(&self) -> Duration;
}

/// The object path that the daemon gives a device.
pub fn device_path(adapter: &str, address: &str) -> String {
    format!("{adapter}/dev_{}", address.replace(':', "_"))
}

/// Full form of a 16-bit UUID (Bluetooth Core Specification, Vol 3, Part B, 2.5.1).
pub fn short(uuid: u16) -> String {
    format!("0000{uuid:04x}-0000-1000-8000-00805f9b34fb")
}
