//! What the Bluetooth library's errors mean for the user.
//!
//! The library wraps the system's errors without a type of their own; their names
//! (`org.bluez.Error.NotAuthorized`) are only in the debugging text. The library's version is
//! pinned, and tests against a real message bus hold every case.

use crate::transport::TransportError;
use std::future::Future;
use std::time::Duration;

/// Longest wait for an answer that involves no radio.
pub(super) const ANSWER: Duration = Duration::from_secs(5);

/// Runs a call of the library under a time limit.
pub(super) async fn within<T>(
    limit: Duration,
    doing: &'static str,
    call: impl Future<Output = btleplug::Result<T>>,
) -> Result<T, TransportError> {
    match tokio::time::timeout(limit, call).await {
        Ok(result) => result.map_err(|error| told(doing, &error)),
        Err(_) => Err(TransportError::Timeout { doing, limit }),
    }
}

/// The library's error in our terms.
pub(super) fn told(doing: &'static str, error: &btleplug::Error) -> TransportError {
    let detail = one_line(&error.to_string());
    let named = format!("{error:?}");
    let says = |names: &[&str]| names.iter().any(|name| named.contains(name));
    if matches!(error, btleplug::Error::PermissionDenied)
        || says(&[
            "AccessDenied",
            "NotAuthorized",
            "NotPermitted",
            "Permission denied",
        ])
    {
        return TransportError::NotPermitted { doing, detail };
    }
    if says(&[
        "DBus.Error.ServiceUnknown",
        "DBus.Error.NameHasNoOwner",
        "DBus.Error.Spawn",
    ]) {
        return TransportError::NoService { detail };
    }
    if says(&[
        "DBus.Error.NoServer",
        "DBus.Error.FileNotFound",
        "DBus.Error.Disconnected",
    ]) {
        return TransportError::NoBus { detail };
    }
    if matches!(error, btleplug::Error::NoAdapterAvailable) {
        return TransportError::NoAdapter;
    }
    TransportError::Radio { doing, detail }
}

/// A text from outside, on one line and of bounded length.
pub(super) fn one_line(text: &str) -> String {
    const MOST: usize = 200;
    let clean: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(MOST)
        .collect();
    clean.trim().to_owned()
}
