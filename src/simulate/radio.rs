//! The way through the air: packets wait for the connection's tick, get lost, come twice or late.

use super::random::Draws;
use super::sensor::Sample;
use super::spec::Radio;
use super::truth::PacketTruth;
use crate::recording::Packet;

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
fn exponential(draws: &mut Draws) -> f64 {
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

/// Carries packets from the sensor to the host.
#[derive(Clone, Debug)]
pub(super) struct Air {
    losses: Losses,
    draws: Draws,
    radio: Radio,
    latest: f64,
    held_back: Option<Vec<u8>>,
    truth: PacketTruth,
}

impl Air {
    pub(super) fn new(radio: &Radio, seed: u64) -> Self {
        Self {
            losses: Losses::new(radio, Draws::new(seed, 3)),
            draws: Draws::new(seed, 4),
            radio: radio.clone(),
            latest: 0.0,
            held_back: None,
            truth: PacketTruth::default(),
        }
    }

    /// Sends a payload at this time (s); what arrives is added to `arrived`.
    pub(super) fn send(&mut self, time: f64, payload: Vec<u8>, arrived: &mut Vec<Packet>) {
        self.truth.sent += 1;
        if self.losses.lost(time) {
            self.truth.lost += 1;
            return;
        }
        let interval = self.radio.interval_ms * 1e-3;
        let tick = (time / interval).ceil() * interval;
        let late = self.radio.jitter_ms * 1e-3 * exponential(&mut self.draws);
        let at = self.latest.max(tick + late);
        self.latest = at;
        let held_back = self.held_back.take();
        if held_back.is_none() && self.draws.chance(self.radio.reordered) {
            self.truth.reordered += 1;
            self.held_back = Some(payload);
            return;
        }
        let twice = self.draws.chance(self.radio.repeated);
        if twice {
            self.truth.repeated += 1;
            arrived.push(packet(at, payload.clone()));
        }
        arrived.push(packet(at, payload));
        if let Some(payload) = held_back {
            arrived.push(packet(at, payload));
        }
    }

    /// What is still on its way at the end arrives; gives what happened to the packets.
    pub(super) fn close(mut self, arrived: &mut Vec<Packet>) -> PacketTruth {
        if let Some(payload) = self.held_back.take() {
            arrived.push(packet(self.latest, payload));
        }
        self.truth
    }
}

fn packet(seconds: f64, hex: Vec<u8>) -> Packet {
    Packet {
        t_us: (seconds * 1e6).round() as u64,
        from: crate::protocol::STREAM.to_owned(),
        hex,
    }
}
