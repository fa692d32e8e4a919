//! What a test does to the peripheral and the host.

use crate::daemon::{HCI0, State};
use crate::peripheral::device_path;
use crate::tree::{ADAPTER, DEVICE, value};

impl State {
    /// The link goes, as when the sensor's battery is pulled. The host keeps the services.
    pub async fn drop_link(&mut self, path: &str) -> zbus::Result<()> {
        self.link_ends(path);
        let to = [
            ("ServicesResolved", value(false)),
            ("Connected", value(false)),
        ];
        self.change(path, DEVICE, to).await
    }

    /// Says that the link is lost, though it is not.
    pub async fn say_disconnected(&mut self, path: &str) -> zbus::Result<()> {
        let changed = std::collections::BTreeMap::from([("Connected", value(false))]);
        let none: Vec<String> = Vec::new();
        let body = (DEVICE, changed, none);
        let properties = "org.freedesktop.DBus.Properties";
        self.bus
            .emit_signal(None::<&str>, path, properties, "PropertiesChanged", &body)
            .await
    }

    /// What the end of a link means for the sensor and its subscriptions.
    pub fn link_ends(&mut self, path: &str) {
        if self
            .notifying
            .as_ref()
            .is_some_and(|one| one.starts_with(path))
        {
            self.notifying = None;
        }
        self.firmware.disconnected();
    }

    /// Out of range: the link goes and, in the end, the device.
    pub async fn vanish(&mut self, at: usize) -> zbus::Result<()> {
        let Some(peripheral) = self.peripherals.get_mut(at) else {
            return Ok(());
        };
        peripheral.present = false;
        let path = device_path(HCI0, &peripheral.address);
        self.drop_link(&path).await?;
        self.removed(&path).await
    }

    /// In range again.
    pub async fn come_back(&mut self, at: usize) -> zbus::Result<()> {
        if let Some(peripheral) = self.peripherals.get_mut(at) {
            peripheral.present = true;
        }
        self.advertise().await
    }

    /// Switches the adapter off or on, as the desktop's switch does.
    pub async fn power(&mut self, on: bool) -> zbus::Result<()> {
        if !on {
            for path in self
                .peripherals
                .iter()
                .map(|p| device_path(HCI0, &p.address))
                .collect::<Vec<_>>()
            {
                self.drop_link(&path).await?;
            }
            self.discovering = false;
        }
        self.change(
            HCI0,
            ADAPTER,
            [("Powered", value(on)), ("Discovering", value(false))],
        )
        .await
    }
}
