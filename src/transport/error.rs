//! What can go wrong between the sensor and the host: what, where, and what to do.

use crate::protocol::CommandError;
use std::time::Duration;
use thiserror::Error;

/// What can go wrong between the sensor and the host.
#[derive(Debug, Error)]
pub enum TransportError {
    /// The system's message bus, through which Bluetooth is reached, does not answer.
    #[error(
        "no Bluetooth can be reached on this computer: the system's message bus does not answer ({detail})"
    )]
    NoBus {
        /// What the bus's library says.
        detail: String,
    },
    /// No Bluetooth service runs on this computer.
    #[error(
        "no Bluetooth can be reached on this computer: the Bluetooth service does not run ({detail})"
    )]
    NoService {
        /// What the Bluetooth library says.
        detail: String,
    },
    /// The computer has no Bluetooth adapter.
    #[error("there is no Bluetooth on this computer: it shows no Bluetooth adapter")]
    NoAdapter,
    /// The adapter asked for is not there.
    #[error("there is no Bluetooth adapter \"{wanted}\"; there is {}", .there.join(", "))]
    NoSuchAdapter {
        /// The name asked for.
        wanted: String,
        /// The adapters that are there.
        there: Vec<String>,
    },
    /// The adapter is switched off.
    #[error("the Bluetooth adapter {adapter} is switched off")]
    AdapterOff {
        /// Its name.
        adapter: String,
    },
    /// The user may not do this.
    #[error("not permitted to {doing} ({detail})")]
    NotPermitted {
        /// What was refused.
        doing: &'static str,
        /// What the Bluetooth library says.
        detail: String,
    },
    /// No sensor that fits was heard.
    #[error("no {wanted} found in {} s; {heard} other Bluetooth device(s) heard", .looked.as_secs())]
    NothingFound {
        /// What was looked for.
        wanted: String,
        /// How many devices were heard that do not fit.
        heard: usize,
        /// For how long was looked.
        looked: Duration,
    },
    /// More than one sensor fits.
    #[error("several sensors fit: {}", .found.join("; "))]
    Several {
        /// Name and address of each.
        found: Vec<String>,
    },
    /// No protocol file describes the sensor, or more than one.
    #[error("{sensor}: {}", if .fitting.is_empty() { "no protocol file describes it".to_owned() } else { format!("several protocol files fit: {}", .fitting.join(", ")) })]
    WhichProtocol {
        /// Name and address.
        sensor: String,
        /// The protocol files that fit.
        fitting: Vec<String>,
    },
    /// The sensor does not let itself be connected.
    #[error("cannot connect to {sensor}: {detail}")]
    NotConnected {
        /// Name and address.
        sensor: String,
        /// What the Bluetooth library says.
        detail: String,
    },
    /// The sensor does not offer what its protocol file says.
    #[error("{sensor} is not what its protocol file says: {}", .faults.join("; "))]
    Mismatch {
        /// Name and address.
        sensor: String,
        /// Each thing that is missing or different.
        faults: Vec<String>,
    },
    /// The sensor or the host took too long.
    #[error("no answer within {} s while trying to {doing}", .limit.as_secs())]
    Timeout {
        /// What was being done.
        doing: &'static str,
        /// For how long was waited.
        limit: Duration,
    },
    /// Any other failure of the radio.
    #[error("cannot {doing}: {detail}")]
    Radio {
        /// What was being done.
        doing: &'static str,
        /// What the Bluetooth library says.
        detail: String,
    },
    /// The link was lost and did not come back.
    #[error("the link to the sensor was lost and did not come back in {} s", .waited.as_secs())]
    Gone {
        /// For how long was tried.
        waited: Duration,
    },
    /// The sensor has no such command.
    #[error(transparent)]
    Command(#[from] CommandError),
    /// The recording being replayed cannot be read.
    #[error("{0}")]
    Recording(String),
    /// The virtual sensor cannot play what was asked.
    #[error("the virtual sensor cannot run: {0}")]
    Virtual(String),
}

impl TransportError {
    /// What the user can do about it; a sentence without a full stop.
    pub fn remedy(&self) -> Option<&'static str> {
        Some(match self {
            Self::NoBus { .. } => {
                "start the system bus (on most Linux systems: systemctl start dbus); in a \
                 container, hand in /run/dbus/system_bus_socket"
            }
            Self::NoService { .. } => {
                "install BlueZ and start it (on most Linux systems: systemctl enable --now \
                 bluetooth)"
            }
            Self::NoAdapter => {
                "plug in a Bluetooth 4.0 (or newer) adapter; if there is one, see whether the \
                 kernel knows it (lsusb, dmesg)"
            }
            Self::NoSuchAdapter { .. } => "choose one of these with --adapter",
            Self::AdapterOff { .. } => {
                "switch Bluetooth on in the system's settings (Linux: bluetoothctl power on; \
                 if that fails: rfkill unblock bluetooth)"
            }
            Self::NotPermitted { .. } => {
                "let this user use Bluetooth (Linux: log in at the machine itself or join the \
                 group bluetooth; macOS: System Settings, Privacy & Security, Bluetooth)"
            }
            Self::NothingFound { .. } => {
                "switch the sensor on, bring it nearer, and see that no phone holds its link; \
                 needlerest scan --all lists everything that is heard"
            }
            Self::Several { .. } => "choose one by its address with --sensor",
            Self::WhichProtocol { .. } => "say which protocol file describes it with --protocol",
            Self::NotConnected { .. } | Self::Timeout { .. } => {
                "bring the sensor nearer, switch it off and on, and see that no phone holds its \
                 link"
            }
            Self::Mismatch { .. } => {
                "check that --protocol names the file for this kind of sensor and firmware; \
                 needlerest self-check shows what it offers"
            }
            Self::Gone { .. } => {
                "everything received is in the recording; bring the sensor nearer or charge it, \
                 then record anew"
            }
            Self::Command(_) => "leave this option out, or add the command to the protocol file",
            Self::Radio { .. } | Self::Recording(_) | Self::Virtual(_) => return None,
        })
    }
}
