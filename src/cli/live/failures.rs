//! What a failure of the radio means for the command.

use crate::cli::{Exit, Failure};
use crate::transport::TransportError;

/// What can be done without a radio.
const PRACTICE: &str =
    "or try the guided visit without any sensor, on a simulated engine: needlerest practice";

impl From<TransportError> for Failure {
    fn from(error: TransportError) -> Self {
        let exit = match error {
            TransportError::Mismatch { .. } => Exit::Mismatch,
            TransportError::Recording(_) | TransportError::Virtual(_) => Exit::BadInput,
            TransportError::Command(_) => Exit::Usage,
            _ => Exit::Failed,
        };
        let failure = Self::new(exit, &error);
        let without = matches!(
            error,
            TransportError::NoBus { .. }
                | TransportError::NoService { .. }
                | TransportError::NoAdapter
        );
        match error.remedy() {
            Some(remedy) if without => failure.remedy(format!("{remedy}\n{PRACTICE}")),
            Some(remedy) => failure.remedy(remedy),
            None => failure,
        }
    }
}
