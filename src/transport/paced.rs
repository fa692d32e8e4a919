//! A row of arrivals known beforehand (a recording, a virtual sensor), handed on in its own time
//! or as fast as it goes.

use super::{Arrival, Clock, Origin, Source, TransportError};
use futures::future::BoxFuture;
use std::str::FromStr;
use std::time::Duration;

/// How fast to hand on what is known beforehand.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Pace {
    /// As fast as it goes.
    #[default]
    Fast,
    /// Each arrival when its time has come, as a live sensor would.
    OwnTime,
    /// So many times as fast as a live sensor would (more than zero).
    Times(f64),
}

/// So many times as fast, from 0.01 to 10,000; 0: as fast as it goes.
impl FromStr for Pace {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text.parse() {
            Ok(0.0) => Ok(Self::Fast),
            Ok(times) if (0.01..=10_000.0).contains(&times) => Ok(Self::Times(times)),
            _ => Err("a number from 0.01 to 10000, or 0 for as fast as it goes".to_owned()),
        }
    }
}

impl Pace {
    /// How many times as fast as time itself; none for as fast as it goes.
    pub(super) fn speed(self) -> Option<f64> {
        match self {
            Self::Fast => None,
            Self::OwnTime => Some(1.0),
            Self::Times(speed) => Some(speed.max(1e-6)),
        }
    }

    /// When what came at `t_us` has its turn, counted from the beginning; none for at once.
    pub fn due(self, t_us: u64) -> Option<Duration> {
        let speed = self.speed()?;
        Some(Duration::from_secs_f64(t_us as f64 * 1e-6 / speed))
    }
}

/// A source over an iterator of arrivals whose times do not decrease.
pub struct Paced<I> {
    origin: Origin,
    arrivals: I,
    /// Taken from the iterator, its time not yet come.
    held: Option<Arrival>,
    pace: Pace,
    clock: Clock,
    last_us: u64,
    stopped: bool,
}

impl<I> Paced<I>
where
    I: Iterator<Item = Result<Arrival, TransportError>> + Send,
{
    /// Hands on `arrivals` at the given pace; time counts from now.
    pub fn new(origin: Origin, arrivals: I, pace: Pace) -> Self {
        Self {
            origin,
            arrivals,
            held: None,
            pace,
            clock: Clock::start(),
            last_us: 0,
            stopped: false,
        }
    }

    async fn step(&mut self) -> Result<Option<Arrival>, TransportError> {
        if self.stopped {
            return Ok(None);
        }
        if self.held.is_none() {
            match self.arrivals.next() {
                Some(arrival) => self.held = Some(arrival?),
                None => return Ok(None),
            }
        }
        let due = self.held.as_ref().and_then(time_of).unwrap_or(self.last_us);
        if let Some(due) = self.pace.due(due) {
            self.clock.reach(due.as_micros() as u64).await;
        }
        self.last_us = self.last_us.max(due);
        Ok(self.held.take())
    }
}

/// The time an arrival carries, in microseconds.
fn time_of(arrival: &Arrival) -> Option<u64> {
    match arrival {
        Arrival::Packet(packet) => Some(packet.t_us),
        Arrival::Event(event) => Some(event.t_us),
        Arrival::Notice(_) => None,
    }
}

impl<I> Source for Paced<I>
where
    I: Iterator<Item = Result<Arrival, TransportError>> + Send,
{
    fn origin(&self) -> &Origin {
        &self.origin
    }

    fn now_us(&self) -> u64 {
        match self.pace.speed() {
            None => self.last_us,
            Some(speed) => self
                .last_us
                .max((self.clock.now_us() as f64 * speed) as u64),
        }
    }

    fn next(&mut self) -> BoxFuture<'_, Result<Option<Arrival>, TransportError>> {
        Box::pin(self.step())
    }

    fn stop(&mut self) -> BoxFuture<'_, Result<(), TransportError>> {
        self.stopped = true;
        Box::pin(std::future::ready(Ok(())))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recording::{Packet, SensorIdentity};

    fn packets(times: &[u64]) -> Vec<Result<Arrival, TransportError>> {
        times
            .iter()
            .map(|&t_us| {
                Ok(Arrival::Packet(Packet {
                    t_us,
                    from: "stream".into(),
                    hex: vec![1],
                }))
            })
            .collect()
    }

    fn source(
        times: &[u64],
        pace: Pace,
    ) -> Paced<impl Iterator<Item = Result<Arrival, TransportError>>> {
        let origin = Origin {
            protocol: String::new(),
            sensor: SensorIdentity::default(),
            card: None,
            started: None,
        };
        Paced::new(origin, packets(times).into_iter(), pace)
    }

    #[tokio::test(start_paused = true)]
    async fn own_time_waits_until_each_is_due() {
        let mut source = source(&[0, 250_000, 1_000_000], Pace::OwnTime);
        let begun = tokio::time::Instant::now();
        let mut seen = Vec::new();
        while source.next().await.expect("plays").is_some() {
            seen.push(u64::try_from(begun.elapsed().as_millis()).expect("short"));
        }
        assert_eq!(seen, [0, 250, 1000]);
    }

    #[tokio::test(start_paused = true)]
    async fn ten_times_as_fast_waits_a_tenth() {
        let mut source = source(&[0, 250_000, 1_000_000], Pace::Times(10.0));
        let begun = tokio::time::Instant::now();
        let mut seen = Vec::new();
        while source.next().await.expect("plays").is_some() {
            seen.push(u64::try_from(begun.elapsed().as_millis()).expect("short"));
        }
        assert_eq!(seen, [0, 25, 100]);
        assert!(source.now_us() >= 1_000_000);
    }

    #[tokio::test(start_paused = true)]
    async fn fast_does_not_wait_and_a_dropped_wait_loses_nothing() {
        let mut fast = source(&[5, 10_000_000], Pace::Fast);
        let begun = tokio::time::Instant::now();
        while fast.next().await.expect("plays").is_some() {}
        assert_eq!(begun.elapsed().as_millis(), 0);
        assert_eq!(fast.now_us(), 10_000_000);

        let mut slow = source(&[100_000, 200_000], Pace::OwnTime);
        let short = std::time::Duration::from_millis(10);
        assert!(tokio::time::timeout(short, slow.next()).await.is_err());
        let mut times = Vec::new();
        while let Some(arrival) = slow.next().await.expect("plays") {
            times.extend(time_of(&arrival));
        }
        assert_eq!(times, [100_000, 200_000]);
    }

    #[tokio::test]
    async fn nothing_comes_after_a_stop() {
        let mut source = source(&[1, 2, 3], Pace::Fast);
        assert!(source.next().await.expect("plays").is_some());
        source.stop().await.expect("stops");
        assert!(source.next().await.expect("ends").is_none());
    }
}
