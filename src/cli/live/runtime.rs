//! The runtime under the commands that talk to a sensor, and what asks them to end.

use crate::cli::{Exit, Failure};
use std::future::Future;
use std::time::Duration;

/// How long tasks may take to end by themselves.
const LAST_WORDS: Duration = Duration::from_millis(500);

/// Runs a command to its end.
pub(in crate::cli) fn run<T>(
    command: impl Future<Output = Result<T, Failure>>,
) -> Result<T, Failure> {
    // Two threads: one stamps notifications while the other writes to the disk.
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|error| {
            Failure::new(Exit::Failed, format!("cannot start the runtime: {error}"))
        })?;
    let result = runtime.block_on(command);
    runtime.shutdown_timeout(LAST_WORDS);
    result
}

/// Ends when the user (Ctrl-C), the system (SIGTERM) or a closed terminal (SIGHUP) asks the
/// command to end. Can be asked again.
pub(in crate::cli) struct Ending {
    #[cfg(unix)]
    signals: [tokio::signal::unix::Signal; 3],
}

impl Ending {
    /// Listens from now on.
    pub(in crate::cli) fn listen() -> std::io::Result<Self> {
        #[cfg(unix)]
        {
            use tokio::signal::unix::{SignalKind, signal};
            let signals = [
                signal(SignalKind::interrupt())?,
                signal(SignalKind::terminate())?,
                signal(SignalKind::hangup())?,
            ];
            Ok(Self { signals })
        }
        #[cfg(not(unix))]
        Ok(Self {})
    }

    /// Waits for the next request to end.
    pub(in crate::cli) async fn asked(&mut self) {
        #[cfg(unix)]
        {
            let [interrupt, terminate, hangup] = &mut self.signals;
            tokio::select! {
                _ = interrupt.recv() => {}
                _ = terminate.recv() => {}
                _ = hangup.recv() => {}
            }
        }
        #[cfg(not(unix))]
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    }
}
