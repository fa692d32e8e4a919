//! The host's monotonic clock, counted from when the source was opened.

use std::time::Duration;
use tokio::time::Instant;

/// Counts microseconds since it was started. (Tokio's clock, so that tests can pause it.)
#[derive(Clone, Copy, Debug)]
pub struct Clock {
    start: Instant,
}

impl Clock {
    /// Starts counting now.
    pub fn start() -> Self {
        Self {
            start: Instant::now(),
        }
    }

    /// Microseconds since the start.
    pub fn now_us(&self) -> u64 {
        u64::try_from(self.start.elapsed().as_micros()).unwrap_or(u64::MAX)
    }

    /// Waits until `t_us` microseconds after the start; returns at once if that is past.
    pub async fn reach(&self, t_us: u64) {
        tokio::time::sleep_until(self.start + Duration::from_micros(t_us)).await;
    }
}
