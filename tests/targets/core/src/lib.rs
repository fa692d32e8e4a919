//! The core alone, for machines that the whole program is not built for.

use needlerest::pipeline;

/// The findings of a recording as the program prints them; why there are none otherwise.
pub fn findings(recording: &[u8]) -> String {
    match pipeline::analyse(recording, pipeline::Options::default()) {
        Ok(analysis) => {
            pipeline::json(&analysis.findings).unwrap_or_else(|error| error.to_string())
        }
        Err(error) => error.to_string(),
    }
}
