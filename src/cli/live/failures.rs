//! What a failure of the radio means for the command.

use crate::cli::{Exit, Failure};
use crate::transport::TransportError;

impl From<TransportError> for Failure {
    fn from(error: TransportError) -> Self {
        let exit = match error {
            TransportError::Mismatch { .. } => Exit::Mismatch,
            TransportError::Recording(_) | TransportError::Virtual(_) => Exit::BadInput,
            TransportError::Command(_) => Exit::Usage,
            _ => Exit::Failed,
        };
        let failure = Self::new(exit, &error);
        match error.remedy() {
            Some(remedy) => failure.remedy(remedy),
            None => failure,
        }
    }
}
