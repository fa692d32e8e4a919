//! A sensor that is connected and found to be what its protocol file says.

use super::faults::{one_line, within};
use super::link::{EXCHANGE, Link};
use super::scan::{Found, Scanner};
use super::stream::BleStream;
use crate::protocol::{Command, Decoder, Field, ProtocolFile};
use crate::recording::SensorIdentity;
use crate::transport::presentation::Presentation;
use crate::transport::{Origin, TransportError};
use crate::units::{Rate, Time};
use btleplug::api::{Characteristic, Peripheral as _};
use std::collections::BTreeMap;
use std::sync::Arc;
use uuid::Uuid;

/// Characteristic Presentation Format (Assigned Numbers 0x2904).
const PRESENTATION: Uuid = Uuid::from_u128(0x0000_2904_0000_1000_8000_0080_5F9B_34FB);
/// A notification takes 3 bytes of the MTU for itself (Core Specification, Volume 3, Part F,
/// section 3.4.7.1; the section from memory).
const OVERHEAD: usize = 3;

/// A sensor that is connected and found to be what its protocol file says.
pub struct Sensor {
    link: Link,
    scanner: Scanner,
    name: String,
    address: String,
    rssi_dbm: Option<i16>,
    details: BTreeMap<String, String>,
}

/// What a connected sensor tells of itself.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Facts {
    /// Serial number, firmware and the like.
    pub details: BTreeMap<String, String>,
    /// What is left in its battery, in percent.
    pub battery_percent: Option<f64>,
    /// The longest notification that the link carries, in bytes.
    pub carries: usize,
    /// What the user should know: what is lacking, what will not fit, what contradicts.
    pub warnings: Vec<String>,
    /// Values whose own description was read and agrees with the protocol file.
    pub agreeing: Vec<String>,
}

impl Found {
    /// Connects, lists the services and holds them against the protocol file.
    ///
    /// # Errors
    /// It does not let itself be connected, or is not what the file says.
    pub async fn connect(
        self,
        scanner: Scanner,
        protocol: Arc<ProtocolFile>,
    ) -> Result<Sensor, TransportError> {
        let label = self.label();
        let link = Link::open(self.peripheral, protocol, label).await?;
        Ok(Sensor {
            link,
            scanner,
            name: self.name,
            address: self.address,
            rssi_dbm: self.rssi_dbm,
            details: BTreeMap::new(),
        })
    }
}

impl Sensor {
    /// Asks what the sensor tells of itself.
    ///
    /// # Errors
    /// Never for what the sensor lacks or refuses: that is among the warnings.
    pub async fn facts(&mut self) -> Facts {
        let mut facts = Facts {
            warnings: self.link.plan.lacking.clone(),
            ..Facts::default()
        };
        self.read_details(&mut facts).await;
        self.details.clone_from(&facts.details);
        facts.battery_percent = self.battery().await;
        facts.carries = usize::from(self.link.peripheral.mtu()).saturating_sub(OVERHEAD);
        let needs = self.link.protocol.spec().stream.max_payload;
        // A stream that packets cut anywhere loses nothing where they are shorter; what is read
        // comes in as many pieces as it takes.
        let stream = &self.link.protocol.spec().stream;
        let whole = stream.text.is_none() && stream.frame.is_none() && !self.link.plan.is_read;
        if facts.carries < needs && whole {
            facts.warnings.push(format!(
                "the link carries {} bytes a notification, the sensor sends up to {needs}: longer \
                 ones will be cut short unless the sensor adapts",
                facts.carries
            ));
        }
        self.hold_presentation(&mut facts).await;
        facts
    }

    async fn read_details(&self, facts: &mut Facts) {
        for (name, one) in &self.link.plan.details {
            match self.link.read(one).await {
                Ok(bytes) => {
                    let text = one_line(String::from_utf8_lossy(&bytes).trim_end_matches('\0'));
                    facts.details.insert(name.clone(), text);
                }
                Err(error) => facts
                    .warnings
                    .push(format!("{name} cannot be read: {error}")),
            }
        }
    }

    /// What is left in the battery, in percent, if it can be read.
    async fn battery(&self) -> Option<f64> {
        let plan = &self.link.plan;
        let mut others = plan.readable.iter().chain(&plan.notifying);
        let (from, one) = others.find(|(from, _)| from == "battery")?;
        let bytes = self.link.read(one).await.ok()?;
        let mut decoder = Decoder::new(&self.link.protocol);
        decoder.accept(from, Time::default(), &bytes, &mut Vec::new());
        decoder.battery()
    }

    /// Reads each value's own description and holds it against the protocol file.
    async fn hold_presentation(&self, facts: &mut Facts) {
        let spec = self.link.protocol.spec();
        let mut values: Vec<(&str, &Characteristic, &Field)> = Vec::new();
        if let ([field], None) = (spec.stream.fields.as_slice(), &spec.stream.samples) {
            values.push(("pressure", &self.link.plan.stream, field));
        }
        let plan = &self.link.plan;
        for (from, one) in plan.readable.iter().chain(&plan.notifying) {
            let reading = spec.readings.iter().find(|reading| reading.from == *from);
            values.extend(reading.map(|reading| (from.as_str(), one, &reading.field)));
        }
        for (what, one, field) in values {
            let Some(descriptor) = one.descriptors.iter().find(|d| d.uuid == PRESENTATION) else {
                continue;
            };
            let read = self.link.peripheral.read_descriptor(descriptor);
            let octets = within(EXCHANGE, "read a descriptor", read).await;
            match octets.ok().as_deref().and_then(Presentation::parse) {
                None => facts
                    .warnings
                    .push(format!("{what}: its own description cannot be read")),
                Some(presentation) => {
                    let against = presentation.contradicts(field);
                    if against.is_empty() {
                        facts.agreeing.push(what.to_owned());
                    }
                    facts
                        .warnings
                        .extend(against.into_iter().map(|text| format!("{what}: {text}")));
                }
            }
        }
    }

    pub(super) fn link(&self) -> &Link {
        &self.link
    }

    /// Tells the sensor to take the pressure at this moment as zero.
    ///
    /// # Errors
    /// It has no such command, or does not answer.
    pub async fn zero(&self) -> Result<(), TransportError> {
        self.link.command(Command::Zero).await
    }

    /// Sets the sample rate, now and after every reconnection.
    ///
    /// # Errors
    /// The sensor takes no rate, or not this one.
    pub fn set_rate(&mut self, rate: Rate) -> Result<(), TransportError> {
        self.link.protocol.encode(Command::SetRate(rate))?;
        self.link.rate = Some(rate);
        Ok(())
    }

    /// Starts the stream.
    ///
    /// # Errors
    /// The sensor or the host refuses.
    pub async fn stream(self) -> Result<BleStream, TransportError> {
        let origin = Origin {
            protocol: self.link.protocol.text().to_owned(),
            sensor: SensorIdentity {
                name: self.name,
                address: self.address,
                details: self.details,
                correction: None,
            },
            card: None,
            started: None,
        };
        BleStream::start(self.link, self.scanner, self.rssi_dbm, origin).await
    }

    /// Lets go of the sensor.
    ///
    /// # Errors
    /// It does not answer.
    pub async fn let_go(self) -> Result<(), TransportError> {
        self.link.let_go().await
    }
}
