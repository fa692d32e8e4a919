//! How well the link does: spacing of the notifications, latency against the sensor's own clock,
//! loss, signal strength. Pure: fed with the stamps that packets carry, so a replay of a recording
//! gives the same numbers.
//!
//! The sensor's clock and the host's start at unknown moments and run at slightly different rates.
//! Both unknowns are read off the quickest notifications: over blocks of two seconds the smallest
//! difference of the two clocks is kept, and a straight line through these minima gives the rate
//! (drift) and the base from which latency is counted.

use crate::recording::{LinkQuality, Spread};
use hdrhistogram::Histogram;

/// Length of a block, in seconds.
const BLOCK_S: f64 = 2.0;
/// When this many blocks are held, neighbours are merged: memory stays flat.
const MAX_BLOCKS: usize = 256;
/// Shorter than this, a line through the minima says nothing of the drift (seconds).
const MIN_DRIFT_SPAN_S: f64 = 20.0;
/// A jump of the clocks' difference by more than this means that the sensor's clock began anew.
const RESTART_S: f64 = 1.0;
/// Longest time the histograms hold: ten minutes, in microseconds.
const LONGEST_US: u64 = 600_000_000;

/// The quickest notification of a block.
#[derive(Clone, Copy, Debug)]
struct Quickest {
    /// Host's time, in seconds.
    at_s: f64,
    /// Host's time less the sensor's, in seconds.
    offset_s: f64,
}

/// Gathers how well the link does.
pub struct LinkMeter {
    quality: LinkQuality,
    spacing: Option<Histogram<u64>>,
    latency: Option<Histogram<u64>>,
    last_us: Option<u64>,
    block: Vec<Quickest>,
    quickest: Vec<Quickest>,
}

impl Default for LinkMeter {
    fn default() -> Self {
        Self::new()
    }
}

impl LinkMeter {
    /// Nothing gathered yet.
    pub fn new() -> Self {
        // The bounds are constants within what the histogram accepts; were they not, the spread
        // would be reported as unknown.
        let histogram = || Histogram::new_with_bounds(1, LONGEST_US, 3).ok();
        Self {
            quality: LinkQuality::default(),
            spacing: histogram(),
            latency: histogram(),
            last_us: None,
            block: Vec::new(),
            quickest: Vec::new(),
        }
    }

    /// A notification came at the host's `t_us`; the sensor's own clock said `sensor_s` (seconds,
    /// unwrapped), if it has one.
    pub fn packet(&mut self, t_us: u64, sensor_s: Option<f64>) {
        self.quality.packets += 1;
        if let Some(last) = self.last_us.replace(t_us) {
            note(&mut self.spacing, t_us.saturating_sub(last));
        }
        let Some(sensor_s) = sensor_s.filter(|s| s.is_finite()) else {
            return;
        };
        let at_s = t_us as f64 * 1e-6;
        let now = Quickest {
            at_s,
            offset_s: at_s - sensor_s,
        };
        self.restart_if_jumped(now);
        if self
            .block
            .first()
            .is_some_and(|first| at_s - first.at_s >= BLOCK_S)
        {
            self.close_block();
        }
        self.block.push(now);
    }

    /// How many notifications never came, by their sequence numbers, in all.
    pub fn lost_in_all(&mut self, lost: u64) {
        self.quality.lost = Some(lost);
    }

    /// The link was lost: the silence until the next notification is no spacing.
    pub fn link_lost(&mut self) {
        self.quality.link_losses += 1;
        self.last_us = None;
    }

    /// The host told the signal strength.
    pub fn signal(&mut self, rssi_dbm: i16) {
        self.quality.rssi_dbm = Some(rssi_dbm);
    }

    /// How the link has done so far.
    pub fn report(&self) -> LinkQuality {
        let mut quality = self.quality.clone();
        quality.spacing_us = spread(self.spacing.as_ref());
        quality.latency_us = spread(self.latency.as_ref());
        quality.drift_ppm = self.drift().map(|slope| -slope * 1e6);
        quality
    }

    fn restart_if_jumped(&mut self, now: Quickest) {
        let before = self.block.last().or(self.quickest.last());
        if before.is_some_and(|before| (now.offset_s - before.offset_s).abs() > RESTART_S) {
            self.block.clear();
            self.quickest.clear();
        }
    }

    /// Takes the block's quickest into the line and counts every latency of the block from it.
    fn close_block(&mut self) {
        let block = std::mem::take(&mut self.block);
        let Some(quickest) = block
            .iter()
            .copied()
            .min_by(|a, b| a.offset_s.total_cmp(&b.offset_s))
        else {
            return;
        };
        self.quickest.push(quickest);
        if self.quickest.len() >= MAX_BLOCKS {
            self.quickest = self
                .quickest
                .chunks(2)
                .filter_map(|pair| {
                    pair.iter()
                        .copied()
                        .min_by(|a, b| a.offset_s.total_cmp(&b.offset_s))
                })
                .collect();
        }
        let slope = self.drift().unwrap_or(0.0);
        let base = self
            .quickest
            .iter()
            .map(|q| q.offset_s - slope * q.at_s)
            .fold(f64::INFINITY, f64::min);
        for one in &block {
            let late_s = one.offset_s - slope * one.at_s - base;
            note(&mut self.latency, (late_s * 1e6).max(0.0) as u64);
        }
    }

    /// Slope of the line through the quickest, seconds a second: least squares (NIST/SEMATECH
    /// e-Handbook of Statistical Methods, 4.1.4.1).
    fn drift(&self) -> Option<f64> {
        let (first, last) = (self.quickest.first()?, self.quickest.last()?);
        if last.at_s - first.at_s < MIN_DRIFT_SPAN_S {
            return None;
        }
        let n = self.quickest.len() as f64;
        let mean_at = self.quickest.iter().map(|q| q.at_s).sum::<f64>() / n;
        let mean_offset = self.quickest.iter().map(|q| q.offset_s).sum::<f64>() / n;
        let (mut over, mut under) = (0.0, 0.0);
        for q in &self.quickest {
            over += (q.at_s - mean_at) * (q.offset_s - mean_offset);
            under += (q.at_s - mean_at) * (q.at_s - mean_at);
        }
        (under > 0.0).then(|| over / under)
    }
}

fn note(histogram: &mut Option<Histogram<u64>>, value_us: u64) {
    if let Some(histogram) = histogram {
        histogram.saturating_record(value_us);
    }
}

fn spread(histogram: Option<&Histogram<u64>>) -> Option<Spread> {
    let histogram = histogram.filter(|h| !h.is_empty())?;
    Some(Spread {
        p50: histogram.value_at_quantile(0.5),
        p99: histogram.value_at_quantile(0.99),
        max: histogram.max(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 100 notifications a second for `seconds`; each comes `late_us(i)` late, and the sensor's
    /// clock runs `ppm` faster than the host's.
    fn feed(meter: &mut LinkMeter, seconds: u64, ppm: f64, late_us: impl Fn(u64) -> u64) {
        for i in 0..seconds * 100 {
            let sent_us = i * 10_000;
            let sensor_s = 1234.5 + sent_us as f64 * 1e-6 * (1.0 + ppm * 1e-6);
            meter.packet(sent_us + late_us(i), Some(sensor_s));
        }
    }

    #[test]
    fn finds_the_drift_under_jitter() {
        for ppm in [-120.0, 0.0, 40.0, 500.0] {
            let mut meter = LinkMeter::new();
            feed(&mut meter, 120, ppm, |i| 500 + (i * 7919) % 1000);
            let found = meter.report().drift_ppm.expect("long enough");
            // The quickest of 200 lies within some 5 µs of the least delay: 120 s settle 1 ppm.
            assert!((found - ppm).abs() < 1.0, "{ppm}: {found}");
        }
    }

    #[test]
    fn counts_latency_from_the_quickest() {
        let mut meter = LinkMeter::new();
        feed(&mut meter, 60, 30.0, |i| {
            if i % 50 == 49 { 20_300 } else { 300 }
        });
        let latency = meter.report().latency_us.expect("has a clock");
        assert!(latency.p50 < 100, "{latency:?}");
        assert!(latency.p99.abs_diff(20_000) < 200, "{latency:?}");
    }

    #[test]
    fn a_gap_in_the_link_is_no_spacing_and_a_restarted_clock_no_drift() {
        let mut meter = LinkMeter::new();
        feed(&mut meter, 30, 0.0, |_| 300);
        meter.link_lost();
        for i in 0..3000_u64 {
            meter.packet(90_000_000 + i * 10_000, Some(i as f64 * 0.01));
        }
        let quality = meter.report();
        assert_eq!(quality.link_losses, 1);
        assert!(quality.spacing_us.expect("fed").max < 11_000);
        assert!(quality.drift_ppm.expect("long enough").abs() < 1.0);
    }

    #[test]
    fn stays_small_over_a_day() {
        let mut meter = LinkMeter::new();
        for i in 0..86_400_u64 {
            meter.packet(i * 1_000_000, Some(i as f64));
        }
        assert!(meter.quickest.len() < MAX_BLOCKS && meter.block.len() < 10);
        assert_eq!(meter.report().packets, 86_400);
    }

    #[test]
    fn without_a_sensor_clock_there_is_no_latency() {
        let mut meter = LinkMeter::new();
        meter.packet(0, None);
        meter.packet(10_000, Some(f64::NAN));
        let quality = meter.report();
        assert_eq!(quality.latency_us, None);
        assert_eq!(
            quality.spacing_us.map(|s| s.max.abs_diff(10_000) < 20),
            Some(true)
        );
    }
}
