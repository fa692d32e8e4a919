//! What a virtual sensor tells of a pressure: with its noise, its errors and its steps.

use crate::protocol::{ProtocolFile, Reference, SensorSample};
use crate::simulate::Sensor;
use crate::units::Pressure;
use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng as _;

/// Charge of the virtual battery, in percent.
const BATTERY: f64 = 83.0;

/// A virtual sensor, without the way through the air.
#[derive(Clone, Debug)]
pub(super) struct Teller {
    spec: Sensor,
    absolute: bool,
    tick_us: f64,
    pub(super) battery: f64,
    pub(super) status: u32,
    draws: Pcg64,
}

impl Teller {
    pub(super) fn new(spec: Sensor, protocol: &ProtocolFile, seed: u64) -> Self {
        Self {
            spec,
            absolute: protocol.reference() == Reference::Absolute,
            tick_us: protocol.tick_us().unwrap_or(1e6 / spec.rate_hz),
            battery: BATTERY,
            status: 0,
            draws: Pcg64::new(u128::from(seed), 7),
        }
    }

    /// Samples a second.
    pub(super) fn rate_hz(&self) -> f64 {
        self.spec.rate_hz
    }

    /// What it tells of a gauge pressure (Pa) at a time (s) where the air presses with `ambient`.
    pub(super) fn sample(&mut self, time: f64, gauge: f64, ambient: f64) -> SensorSample {
        let noise = self.spec.noise_kpa * 1e3 * self.normal();
        let ambient = if self.absolute { ambient } else { 0.0 };
        let spanned = gauge * (1.0 + self.spec.span_error);
        let raw = spanned + ambient + self.spec.offset_kpa * 1e3 + noise;
        let step = self.spec.resolution_kpa * 1e3;
        let told = if step > 0.0 {
            (raw / step).round() * step
        } else {
            raw
        };
        SensorSample {
            tick: (time * 1e6 / self.tick_us + 0.5) as u64,
            pressure: Pressure::from_pa(told),
            temperature: None,
            battery: Some(self.battery),
            status: self.status,
        }
    }

    /// Nearly standard normal: the sum of twelve uniform numbers, less its mean.
    fn normal(&mut self) -> f64 {
        let unit = |bits: u64| (bits >> 11) as f64 / (1_u64 << 53) as f64;
        (0..12).map(|_| unit(self.draws.next_u64())).sum::<f64>() - 6.0
    }
}
