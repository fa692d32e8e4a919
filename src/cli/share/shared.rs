//! What all connections share, and what each has of its own.

use super::offered::Offered;
use super::phones::Phones;
use super::token::Token;
use super::tries::Tries;
use super::wish::Press;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::{mpsc, watch};
use tokio::time::sleep;
use tokio_util::sync::CancellationToken;

/// A reader that takes nothing for so long is let go.
const STUCK: Duration = Duration::from_secs(20);

/// What all connections share.
pub(super) struct Shared {
    pub(super) token: Token,
    pub(super) control: bool,
    /// The cautions, each with what it is about.
    pub(super) cautions: Mutex<Vec<(String, String)>>,
    pub(super) phones: Arc<Phones>,
    /// The newest picture, as an event.
    pub(super) pictures: watch::Receiver<Arc<str>>,
    pub(super) presses: mpsc::Sender<Press>,
    /// After the visit: what can be fetched.
    pub(super) offered: Mutex<Vec<Offered>>,
    pub(super) ended: CancellationToken,
    tries: Mutex<Tries>,
}

impl Shared {
    pub(super) fn new(
        token: Token,
        control: bool,
        pictures: watch::Receiver<Arc<str>>,
        presses: mpsc::Sender<Press>,
    ) -> Self {
        Self {
            token,
            control,
            cautions: Mutex::default(),
            phones: Arc::default(),
            pictures,
            presses,
            offered: Mutex::default(),
            ended: CancellationToken::new(),
            tries: Mutex::new(Tries::new(Instant::now())),
        }
    }

    /// Whether one more wrong address is answered.
    pub(super) fn answers_a_wrong_try(&self) -> bool {
        let mut tries = self.tries.lock().unwrap_or_else(PoisonError::into_inner);
        tries.answered(Instant::now())
    }
}

/// A connection on which something is asked.
pub(super) struct Asked {
    pub(super) shared: Arc<Shared>,
    pub(super) progress: Progress,
}

/// When the other side last took something.
#[derive(Clone, Debug)]
pub(super) struct Progress(Arc<Mutex<Instant>>);

impl Default for Progress {
    fn default() -> Self {
        Self(Arc::new(Mutex::new(Instant::now())))
    }
}

impl Progress {
    /// It took something now.
    pub(super) fn made(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = Instant::now();
    }

    /// Ends when it has taken nothing for long.
    pub(super) async fn stuck(&self) {
        loop {
            let last = *self.0.lock().unwrap_or_else(PoisonError::into_inner);
            match STUCK.checked_sub(last.elapsed()) {
                None | Some(Duration::ZERO) => return,
                Some(left) => sleep(left).await,
            }
        }
    }
}
