//! What the user should be told, once.

use crate::protocol::{ProtocolFile, Severity};

/// Charge below which the user is told to charge the sensor, in percent. (Our choice: a small
/// cell's voltage falls off steeply below that.)
const LOW_BATTERY: f64 = 15.0;

/// Something the user should be told, once.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::cli) enum Told {
    /// Good to know.
    Note(String),
    /// Something is wrong.
    Warning(String),
}

impl Told {
    /// What it says.
    pub(in crate::cli) fn text(&self) -> &str {
        match self {
            Self::Note(text) | Self::Warning(text) => text,
        }
    }
}

/// What the sensor says with these bits of its status, worst first.
pub(in crate::cli) fn status(protocol: &ProtocolFile, bits: u32) -> Vec<Told> {
    let mut bits: Vec<_> = protocol.status_bits(bits).collect();
    bits.sort_by_key(|bit| std::cmp::Reverse(bit.severity));
    let say = |severity: Severity, meaning: &str| match severity {
        Severity::Note => Told::Note(format!("the sensor says: {meaning}")),
        Severity::Warning => Told::Warning(format!("the sensor says: {meaning}")),
        Severity::Fault => Told::Warning(format!(
            "the sensor says: {meaning}; do not trust its readings now"
        )),
    };
    bits.iter()
        .map(|bit| say(bit.severity, &bit.meaning))
        .collect()
}

/// Whether a battery should be charged, by its charge in percent.
pub(in crate::cli) fn is_low(percent: f64) -> bool {
    percent < LOW_BATTERY
}

/// What is said of a battery that is low.
pub(in crate::cli) fn low_battery(percent: f64) -> Told {
    Told::Warning(format!(
        "the sensor's battery is at {percent} %: charge it soon"
    ))
}
