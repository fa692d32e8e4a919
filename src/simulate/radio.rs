//! Losses on the way through the air.

use super::random::Draws;
use super::sensor::Sample;
use super::spec::Radio;

/// Which packets get lost.
#[derive(Clone, Debug)]
pub(super) struct Losses {
    radio: Radio,
    draws: Draws,
    bad_until: f64,
    next_burst: f64,
}

impl Losses {
    pub(super) fn new(radio: &Radio, draws: Draws) -> Self {
        let mut losses = Self {
            radio: radio.clone(),
            draws,
            bad_until: 0.0,
            next_burst: 0.0,
        };
        losses.next_burst = losses.gap();
        losses
    }

    /// Time to the next burst of loss, in s.
    fn gap(&mut self) -> f64 {
        if self.radio.loss_bursts_per_min <= 0.0 {
            return f64::INFINITY;
        }
        60.0 / self.radio.loss_bursts_per_min * exponential(&mut self.draws)
    }

    /// Whether the packet sent at this time (s) gets lost. Times must not go back.
    pub(super) fn lost(&mut self, time: f64) -> bool {
        while time >= self.next_burst {
            self.bad_until =
                self.next_burst + self.radio.loss_burst_s * exponential(&mut self.draws);
            self.next_burst = self.bad_until + self.gap();
        }
        let single = self.draws.chance(self.radio.loss);
        single || time < self.bad_until || self.outage(time)
    }

    fn outage(&self, time: f64) -> bool {
        self.radio
            .outages
            .iter()
            .any(|outage| time >= outage.at_s && time < outage.at_s + outage.for_s)
    }
}

/// Exponentially distributed with mean 1.
pub(super) fn exponential(draws: &mut Draws) -> f64 {
    -libm::log(1.0 - draws.unit())
}

/// Marks the samples of lost packets.
pub(super) fn mark_lost(samples: &mut [Sample], radio: &Radio, seed: u64) {
    let mut losses = Losses::new(radio, Draws::new(seed, 3));
    for packet in samples.chunks_mut(radio.samples_per_packet.max(1) as usize) {
        let sent = packet.last().map_or(0.0, |s| s.time.s());
        if losses.lost(sent) {
            for sample in packet {
                sample.lost = true;
            }
        }
    }
}
