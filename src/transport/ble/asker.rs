//! Asks for pressure where it does not come by itself: writes the question, reads the answer or
//! waits for its notification, at the protocol file's rate.

use super::faults::within;
use super::link::{EXCHANGE, Link, how_to_write};
use super::pump::{News, Pulse};
use crate::protocol::STREAM;
use btleplug::api::{Characteristic, Peripheral as _, WriteType};
use btleplug::platform::Peripheral;
use std::time::Duration;
use tokio::sync::mpsc::UnboundedSender;
use tokio::task::JoinHandle;
use tokio::time::{MissedTickBehavior, interval, timeout};

/// Longest wait for a notification that answers; then the question is put again.
const ANSWER_LIMIT: Duration = Duration::from_secs(1);

/// Asks until it is dropped.
pub(super) struct Asker(JoinHandle<()>);

impl Drop for Asker {
    fn drop(&mut self) {
        self.0.abort();
    }
}

/// What there is to ask.
struct Asking {
    peripheral: Peripheral,
    question: Option<(Characteristic, Vec<u8>, WriteType)>,
    /// What is read for the answer; none: it is notified.
    read: Option<Characteristic>,
    every: Duration,
    pulse: Pulse,
    news: UnboundedSender<News>,
}

impl Asker {
    /// Begins to ask; none where pressure comes by itself.
    pub fn start(link: &Link, pulse: &Pulse, news: &UnboundedSender<News>) -> Option<Self> {
        let ask = link.protocol.ask()?;
        let plan = &link.plan;
        let bytes = link.protocol.question();
        let question = plan.question.clone().zip(bytes).map(|(to, bytes)| {
            let how = how_to_write(&to, ask.acknowledged);
            (to, bytes, how)
        });
        let read = plan.is_read.then(|| plan.stream.clone());
        if question.is_none() && read.is_none() {
            return None;
        }
        let asking = Asking {
            peripheral: link.peripheral.clone(),
            question,
            read,
            every: Duration::from_secs_f64(1.0 / ask.rate_hz),
            pulse: pulse.clone(),
            news: news.clone(),
        };
        Some(Self(tokio::spawn(asking.run())))
    }
}

impl Asking {
    async fn run(self) {
        let mut due = interval(self.every);
        // Questions that could not be put in time are not made up for.
        due.set_missed_tick_behavior(MissedTickBehavior::Delay);
        loop {
            due.tick().await;
            // Whether the link still holds is the keeper's to find out.
            self.once().await;
        }
    }

    async fn once(&self) {
        // Listened for before it is asked for, so that no answer is missed.
        let answer = self.pulse.next();
        tokio::pin!(answer);
        answer.as_mut().enable();
        if let Some((to, bytes, how)) = &self.question {
            let written = self.peripheral.write(to, bytes, *how);
            if within(EXCHANGE, "ask the sensor", written).await.is_err() {
                return;
            }
        }
        match &self.read {
            Some(one) => {
                let read = self.peripheral.read(one);
                if let Ok(bytes) = within(EXCHANGE, "read from the sensor", read).await {
                    let from = STREAM.to_owned();
                    // The pump ends only after the keeper, whose this is.
                    let _ = self.news.send(News::Read { from, bytes });
                }
            }
            None => _ = timeout(ANSWER_LIMIT, answer).await,
        }
    }
}
