//! Finding sensors.

use super::faults::{ANSWER, one_line, told, within};
use crate::protocol::ProtocolFile;
use crate::transport::TransportError;
use btleplug::api::{BDAddr, Central, CentralState, Manager as _, Peripheral as _, ScanFilter};
use btleplug::platform::{Adapter, Manager, Peripheral};
use std::time::Duration;
use tokio::time::Instant;
use uuid::Uuid;

/// A scan that has seen nothing for this long is started anew: some hosts need it.
const RESTART: Duration = Duration::from_secs(3);
/// From one look at what was heard to the next.
const LOOK: Duration = Duration::from_millis(250);
/// Time for two sensors that both fit to be heard before one is taken.
const SECOND_CHANCE: Duration = Duration::from_millis(500);
/// "Not available" (Bluetooth Core Specification, Volume 4, Part E, section 7.7.65.2).
pub(super) const NO_RSSI: i16 = 127;
/// The Battery Service and, in its advertised data, the Battery Level (Assigned Numbers 0x180F).
const BATTERY_SERVICE: Uuid = Uuid::from_u128(0x0000_180F_0000_1000_8000_0080_5F9B_34FB);

/// Which sensor is looked for; with nothing given, any that a protocol file describes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sought {
    /// Its Bluetooth address (on macOS: the identifier that stands for it).
    pub address: Option<String>,
    /// The whole name that it advertises.
    pub name: Option<String>,
}

impl Sought {
    /// The sensor with this address.
    pub fn address(address: &str) -> Self {
        Self {
            address: Some(address.to_owned()),
            name: None,
        }
    }

    fn fits(&self, found: &Found) -> bool {
        match (&self.address, &self.name) {
            (Some(address), _) => address.eq_ignore_ascii_case(&found.address),
            (None, Some(name)) => *name == found.name,
            (None, None) => !found.protocols.is_empty(),
        }
    }

    fn label(&self) -> String {
        match (&self.address, &self.name) {
            (Some(address), _) => format!("sensor with the address {address}"),
            (None, Some(name)) => format!("sensor with the name \"{name}\""),
            (None, None) => "sensor that a protocol file describes".to_owned(),
        }
    }
}

/// A device that was heard.
#[derive(Clone, Debug)]
pub struct Found {
    /// Advertised name; empty if it tells none.
    pub name: String,
    /// Bluetooth address (on macOS: the identifier that stands for it).
    pub address: String,
    /// The host hears it now, and does not only remember it.
    pub heard: bool,
    /// Signal strength in dBm; none if the host does not tell it.
    pub rssi_dbm: Option<i16>,
    /// What is left in its battery in percent, if it advertises that.
    pub battery_percent: Option<u8>,
    /// The protocol files that describe it: indices into those given to the scanner.
    pub protocols: Vec<usize>,
    pub(super) peripheral: Peripheral,
}

impl Found {
    /// Name and address.
    pub fn label(&self) -> String {
        label(&self.name, &self.address)
    }

    /// Ends whatever connection to it there is, or is under way.
    pub async fn abandon(self) {
        // It may be gone; then there is nothing to end.
        let _ = within(ANSWER, "disconnect", self.peripheral.disconnect()).await;
    }
}

/// Name and address of a sensor, for messages.
pub(super) fn label(name: &str, address: &str) -> String {
    if name.is_empty() {
        address.to_owned()
    } else {
        format!("{name} ({address})")
    }
}

/// Looks for sensors.
pub struct Scanner {
    pub(super) adapter: Adapter,
    adapter_name: String,
    started: Option<Instant>,
}

impl Scanner {
    /// Opens the adapter of this name, or the first by name.
    ///
    /// # Errors
    /// No message bus, no Bluetooth service, no adapter, not this one, switched off.
    pub async fn open(wanted: Option<&str>) -> Result<Self, TransportError> {
        let manager = match within(ANSWER, "reach the message bus", Manager::new()).await {
            Ok(manager) => manager,
            Err(TransportError::Radio { detail, .. }) => {
                return Err(TransportError::NoBus { detail });
            }
            Err(error) => return Err(error),
        };
        let adapters = within(ANSWER, "list the Bluetooth adapters", manager.adapters()).await?;
        let mut named = Vec::new();
        for adapter in adapters {
            let info = within(ANSWER, "ask the adapter its name", adapter.adapter_info()).await?;
            let name = info
                .split_whitespace()
                .next()
                .unwrap_or_default()
                .to_owned();
            named.push((name, adapter));
        }
        // The library lists them in random order.
        named.sort_by(|a, b| a.0.cmp(&b.0));
        let there: Vec<String> = named.iter().map(|(name, _)| name.clone()).collect();
        let chosen = named
            .into_iter()
            .find(|(name, _)| wanted.is_none_or(|w| w == name));
        let (adapter_name, adapter) = match (chosen, wanted) {
            (Some(chosen), _) => chosen,
            (None, Some(wanted)) if !there.is_empty() => {
                return Err(TransportError::NoSuchAdapter {
                    wanted: wanted.to_owned(),
                    there,
                });
            }
            (None, _) => return Err(TransportError::NoAdapter),
        };
        let state = within(ANSWER, "ask the adapter its state", adapter.adapter_state()).await?;
        if state == CentralState::PoweredOff {
            return Err(TransportError::AdapterOff {
                adapter: adapter_name,
            });
        }
        Ok(Self {
            adapter,
            adapter_name,
            started: None,
        })
    }

    /// The adapter's name, such as `hci0`.
    pub fn adapter_name(&self) -> &str {
        &self.adapter_name
    }

    /// What has been heard so far, sensors that a protocol file describes first, then by signal
    /// strength. The first call starts the scan; each takes a quarter of a second.
    ///
    /// # Errors
    /// The host refuses to scan, or the Bluetooth service went away.
    pub async fn look(&mut self, protocols: &[ProtocolFile]) -> Result<Vec<Found>, TransportError> {
        if self
            .started
            .is_some_and(|started| started.elapsed() > RESTART)
        {
            self.stop().await;
        }
        if self.started.is_none() {
            let scan = self.adapter.start_scan(ScanFilter::default());
            within(ANSWER, "scan for Bluetooth devices", scan).await?;
            self.started = Some(Instant::now());
        }
        tokio::time::sleep(LOOK).await;
        let list = self.adapter.peripherals();
        let heard = within(ANSWER, "list the Bluetooth devices", list).await?;
        let mut found = Vec::new();
        for peripheral in heard {
            // A device may go between the list and the question.
            if let Ok(one) = describe(peripheral, protocols).await {
                found.push(one);
            }
        }
        found.sort_by(|a, b| {
            let known = b
                .protocols
                .is_empty()
                .cmp(&a.protocols.is_empty())
                .reverse();
            known
                .then(b.rssi_dbm.cmp(&a.rssi_dbm))
                .then(a.address.cmp(&b.address))
        });
        Ok(found)
    }

    /// Looks until the one sensor that fits is heard.
    ///
    /// # Errors
    /// As [`Scanner::look`]; none found within `limit`; several fit.
    pub async fn find(
        &mut self,
        wanted: &Sought,
        protocols: &[ProtocolFile],
        limit: Duration,
    ) -> Result<Found, TransportError> {
        let found = self.find_one(wanted, protocols, limit).await;
        self.stop().await;
        found
    }

    async fn find_one(
        &mut self,
        wanted: &Sought,
        protocols: &[ProtocolFile],
        limit: Duration,
    ) -> Result<Found, TransportError> {
        let begun = Instant::now();
        let mut first_heard: Option<Instant> = None;
        loop {
            let all = self.look(protocols).await?;
            let heard = all.iter().filter(|one| one.heard).count();
            // A device that the host only remembers may be connected already and so not heard.
            let last_chance = begun.elapsed() >= limit;
            let mut fitting: Vec<Found> = all
                .into_iter()
                .filter(|one| wanted.fits(one) && (one.heard || last_chance))
                .collect();
            if fitting.len() > 1 {
                let found = fitting.iter().map(Found::label).collect();
                return Err(TransportError::Several { found });
            }
            if let Some(one) = fitting.pop() {
                let since = *first_heard.get_or_insert_with(Instant::now);
                if wanted.address.is_some() || last_chance || since.elapsed() >= SECOND_CHANCE {
                    return Ok(one);
                }
            } else if last_chance {
                let wanted = wanted.label();
                return Err(TransportError::NothingFound {
                    wanted,
                    heard,
                    looked: limit,
                });
            }
        }
    }

    /// Ends the scan.
    pub async fn stop(&mut self) {
        if self.started.take().is_some() {
            // A scan that the host has ended by itself needs no ending.
            let _ = within(ANSWER, "end the scan", self.adapter.stop_scan()).await;
        }
    }
}

/// The host's name for a device's address.
pub(super) fn address_of(peripheral: &Peripheral) -> String {
    let address = peripheral.address();
    if address == BDAddr::default() {
        peripheral.id().to_string()
    } else {
        address.to_string()
    }
}

async fn describe(
    peripheral: Peripheral,
    protocols: &[ProtocolFile],
) -> Result<Found, TransportError> {
    let doing = "ask a device its name";
    let told_us = within(ANSWER, doing, peripheral.properties()).await?;
    let told_us = told_us.ok_or_else(|| told(doing, &btleplug::Error::DeviceNotFound))?;
    let name = told_us
        .advertisement_name
        .or(told_us.local_name)
        .unwrap_or_default();
    let name = one_line(&name);
    let protocols = protocols
        .iter()
        .enumerate()
        .filter(|(_, file)| recognises(file, &name, &told_us.services))
        .map(|(index, _)| index)
        .collect();
    let battery = told_us
        .service_data
        .get(&BATTERY_SERVICE)
        .and_then(|data| data.first().copied());
    Ok(Found {
        name,
        address: address_of(&peripheral),
        heard: told_us.rssi.is_some(),
        rssi_dbm: told_us.rssi.filter(|&rssi| rssi != NO_RSSI),
        // Values over 100 are reserved (GATT Specification Supplement, Battery Level; edition not
        // seen, read in the documentation of trouble-host 0.2.4).
        battery_percent: battery.filter(|&percent| percent <= 100),
        protocols,
        peripheral,
    })
}

/// Whether a protocol file describes what advertises this: all that it asks for must be there.
pub(super) fn recognises(file: &ProtocolFile, name: &str, services: &[Uuid]) -> bool {
    let asks = &file.spec().recognise;
    let service = asks
        .service
        .is_none_or(|service| services.contains(&service.uuid()));
    let prefix = asks
        .name_prefix
        .as_ref()
        .is_none_or(|prefix| name.starts_with(prefix.as_str()));
    service && prefix && (asks.service.is_some() || asks.name_prefix.is_some())
}
