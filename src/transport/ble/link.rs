//! A connection to one sensor.

use super::faults::{ANSWER, told, within};
use super::plan::Plan;
use crate::protocol::{Command, CommandError, ProtocolFile};
use crate::transport::TransportError;
use crate::units::Rate;
use btleplug::api::{CharPropFlags, Characteristic, Peripheral as _, WriteType};
use btleplug::platform::Peripheral;
use std::sync::Arc;
use std::time::Duration;

/// Longest wait for a connection; the host's own limit is longer, but a sensor within reach
/// answers in a second or two.
const CONNECT: Duration = Duration::from_secs(12);
/// Longest wait for the list of services.
const DISCOVER: Duration = Duration::from_secs(20);
/// Longest wait for an exchange over the radio.
pub(super) const EXCHANGE: Duration = Duration::from_secs(5);

/// A connection to one sensor, found to be what its protocol file says.
pub(super) struct Link {
    pub peripheral: Peripheral,
    pub protocol: Arc<ProtocolFile>,
    pub plan: Plan,
    /// Name and address.
    pub label: String,
    /// Sample rate to set before each start; none leaves the sensor's own.
    pub rate: Option<Rate>,
}

impl Link {
    /// Connects, lists the services and holds them against the protocol file.
    pub async fn open(
        peripheral: Peripheral,
        protocol: Arc<ProtocolFile>,
        label: String,
    ) -> Result<Self, TransportError> {
        let plan = connect(&peripheral, &protocol, &label).await?;
        Ok(Self {
            peripheral,
            protocol,
            plan,
            label,
            rate: None,
        })
    }

    /// Connects again after the link was lost.
    pub async fn reopen(&mut self) -> Result<(), TransportError> {
        self.plan = connect(&self.peripheral, &self.protocol, &self.label).await?;
        self.begin().await
    }

    /// Subscribes, sets the rate, starts the stream.
    pub async fn begin(&self) -> Result<(), TransportError> {
        for (_, one) in &self.plan.notifying {
            within(EXCHANGE, "subscribe", self.peripheral.subscribe(one)).await?;
        }
        if !self.plan.is_read {
            let stream = self.peripheral.subscribe(&self.plan.stream);
            within(EXCHANGE, "subscribe to the pressure", stream).await?;
        }
        if let Some(rate) = self.rate {
            self.command(Command::SetRate(rate)).await?;
        }
        self.start().await
    }

    /// Starts the stream, where subscribing alone does not.
    pub async fn start(&self) -> Result<(), TransportError> {
        if self.can(Command::Start) {
            self.command(Command::Start).await
        } else {
            Ok(())
        }
    }

    /// Whether the sensor knows a command.
    pub fn can(&self, command: Command) -> bool {
        self.plan.command.is_some() && self.protocol.encode(command).is_ok()
    }

    /// Sends a command.
    pub async fn command(&self, command: Command) -> Result<(), TransportError> {
        let bytes = self.protocol.encode(command)?;
        let to = self
            .plan
            .command
            .as_ref()
            .ok_or(CommandError::Unsupported("any"))?;
        let commands = self.protocol.spec().commands.as_ref();
        let how = how_to_write(to, commands.is_some_and(|commands| commands.acknowledged));
        within(
            EXCHANGE,
            "send a command to the sensor",
            self.peripheral.write(to, &bytes, how),
        )
        .await
    }

    /// Reads a characteristic.
    pub async fn read(&self, one: &Characteristic) -> Result<Vec<u8>, TransportError> {
        within(EXCHANGE, "read from the sensor", self.peripheral.read(one)).await
    }

    /// Stops the stream, unsubscribes, disconnects. Goes on after a failure, so that nothing is
    /// left behind; gives the first one.
    pub async fn let_go(&self) -> Result<(), TransportError> {
        if !matches!(
            within(ANSWER, "ask for the link", self.peripheral.is_connected()).await,
            Ok(true)
        ) {
            // Nothing to stop; but a connection may be under way in the host.
            let _ = within(EXCHANGE, "disconnect", self.peripheral.disconnect()).await;
            return Ok(());
        }
        let mut result = Ok(());
        if self.can(Command::Stop) {
            result = self.command(Command::Stop).await;
        }
        let others = self.plan.notifying.iter().map(|(_, one)| one);
        let stream = [&self.plan.stream]
            .into_iter()
            .filter(|_| !self.plan.is_read);
        for one in others.chain(stream) {
            let done = within(EXCHANGE, "unsubscribe", self.peripheral.unsubscribe(one)).await;
            result = result.and(done);
        }
        result.and(within(EXCHANGE, "disconnect", self.peripheral.disconnect()).await)
    }
}

/// Acknowledged where that is asked for and offered, or where nothing else is offered.
pub(super) fn how_to_write(to: &Characteristic, acknowledged: bool) -> WriteType {
    let offers = |flag| to.properties.contains(flag);
    let only = !offers(CharPropFlags::WRITE_WITHOUT_RESPONSE);
    if acknowledged && offers(CharPropFlags::WRITE) || only {
        WriteType::WithResponse
    } else {
        WriteType::WithoutResponse
    }
}

async fn connect(
    peripheral: &Peripheral,
    protocol: &ProtocolFile,
    label: &str,
) -> Result<Plan, TransportError> {
    let tried = connect_once(peripheral, protocol, label).await;
    if tried.is_err() {
        // Else the host may go on trying, and hold the sensor's only link.
        let _ = within(EXCHANGE, "disconnect", peripheral.disconnect()).await;
    }
    tried
}

async fn connect_once(
    peripheral: &Peripheral,
    protocol: &ProtocolFile,
    label: &str,
) -> Result<Plan, TransportError> {
    let not_connected = |detail: String| TransportError::NotConnected {
        sensor: label.to_owned(),
        detail,
    };
    match tokio::time::timeout(CONNECT, peripheral.connect()).await {
        Err(_) => {
            return Err(not_connected(format!(
                "no answer in {} s",
                CONNECT.as_secs()
            )));
        }
        Ok(Err(error)) => {
            return Err(match told("connect", &error) {
                TransportError::Radio { detail, .. } => not_connected(detail),
                other => other,
            });
        }
        Ok(Ok(())) => {}
    }
    within(
        DISCOVER,
        "list the sensor's services",
        peripheral.discover_services(),
    )
    .await?;
    Plan::make(protocol, &peripheral.services()).map_err(|faults| TransportError::Mismatch {
        sensor: label.to_owned(),
        faults,
    })
}
