//! What can go wrong between the sensor and the host; each says what to do.

use thiserror::Error;

/// What can go wrong between the sensor and the host.
#[derive(Debug, Error)]
pub enum TransportError {
    /// The recording being replayed cannot be read.
    #[error("cannot read the recording: {0}")]
    Recording(String),
    /// The virtual sensor cannot play what was asked.
    #[error("the virtual sensor cannot run: {0}")]
    Virtual(String),
}
