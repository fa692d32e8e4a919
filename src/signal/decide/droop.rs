//! Fall of a held reading while nobody cranks.

use crate::signal::results::Droop;
use crate::units::{Pressure, Time};

/// Watching begins this long (s) after the last step: until then the gas that was pressed into the
/// hose cools, which is no leak. Common practice, no source.
const CALM_S: f64 = 1.2;
/// Length of a chunk (s).
const CHUNK_S: f64 = 0.25;

/// Mean of a stretch.
#[derive(Clone, Copy, Debug, Default)]
struct Chunk {
    n: f64,
    time: f64,
    sum: f64,
    started: f64,
}

impl Chunk {
    fn middle(&self) -> (f64, f64) {
        (self.time / self.n, self.sum / self.n)
    }
}

/// Least squares of level over time within each quiet stretch, summed over stretches. A chunk
/// counts only when another one follows it, so that a bleed or a stroke never enters.
#[derive(Clone, Debug, Default)]
pub(crate) struct DroopWatch {
    quiet_since: Option<f64>,
    in_hand: Chunk,
    waiting: Option<Chunk>,
    /// Sums of the stretch in hand, about its first chunk.
    first: Option<(f64, f64)>,
    n: f64,
    taken: f64,
    t: f64,
    x: f64,
    tt: f64,
    tx: f64,
    xx: f64,
    /// Sums over finished stretches, about each stretch's mean.
    all_tt: f64,
    all_tx: f64,
    all_xx: f64,
    chunks: f64,
    /// Samples in those chunks.
    samples: f64,
    stretches: f64,
    watched: f64,
}

impl DroopWatch {
    /// Takes the held level (gauge).
    pub(crate) fn push(&mut self, t: f64, x: f64) {
        let since = *self.quiet_since.get_or_insert(t);
        if t - since < CALM_S {
            return;
        }
        let chunk = &mut self.in_hand;
        if chunk.n == 0.0 {
            chunk.started = t;
        }
        chunk.n += 1.0;
        chunk.time += t;
        chunk.sum += x;
        if t - chunk.started < CHUNK_S {
            return;
        }
        let done = std::mem::take(chunk);
        if let Some(earlier) = self.waiting.replace(done) {
            self.commit(earlier);
        }
    }

    fn commit(&mut self, chunk: Chunk) {
        let (t, x) = chunk.middle();
        let (t0, x0) = *self.first.get_or_insert((t, x));
        let (t, x) = (t - t0, x - x0);
        self.n += 1.0;
        self.taken += chunk.n;
        self.t += t;
        self.x += x;
        self.tt += t * t;
        self.tx += t * x;
        self.xx += x * x;
    }

    /// A stroke, a bleed or the end: the stretch in hand is over.
    pub(crate) fn interrupt(&mut self) {
        if self.n >= 2.0 {
            self.all_tt += self.tt - self.t * self.t / self.n;
            self.all_tx += self.tx - self.t * self.x / self.n;
            self.all_xx += self.xx - self.x * self.x / self.n;
            self.chunks += self.n;
            self.samples += self.taken;
            self.stretches += 1.0;
            self.watched += self.n * CHUNK_S;
        }
        (self.n, self.taken) = (0.0, 0.0);
        (self.t, self.x) = (0.0, 0.0);
        (self.tt, self.tx, self.xx) = (0.0, 0.0, 0.0);
        self.first = None;
        self.waiting = None;
        self.in_hand = Chunk::default();
        self.quiet_since = None;
    }

    /// The fall; none where it could not be watched. `noise`: standard deviation of a sample;
    /// `rounding`: what the sensor's step alone leaves of it, which no mean takes away.
    pub(crate) fn droop(&self, noise: f64, rounding: f64) -> Option<Droop> {
        if self.chunks < 3.0 || self.all_tt <= 0.0 {
            return None;
        }
        let slope = self.all_tx / self.all_tt;
        // One at least: there are three chunks, and no stretch has fewer than two.
        let free = self.chunks - self.stretches - 1.0;
        let residual = (self.all_xx - slope * self.all_tx).max(0.0);
        let of_a_chunk = noise * noise * self.chunks / self.samples;
        let least = of_a_chunk.max(rounding * rounding);
        let scatter = (residual / free).max(least);
        Some(Droop {
            per_second: Pressure::from_pa(-slope),
            per_second_standard: Pressure::from_pa((scatter / self.all_tt).sqrt()),
            watched: Time::from_s(self.watched),
        })
    }
}

#[cfg(test)]
mod tests;
