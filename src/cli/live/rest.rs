//! The reading at rest: what the sensor shows before anyone cranks.

use crate::protocol::{ProtocolFile, RawSample, Reference};
use crate::units::Pressure;

/// How many seconds of samples make the reading at rest.
const LONG_ENOUGH_S: f64 = 1.0;
/// A pressure that moves more than this is not at rest, in pascal.
const MOVING_PA: f64 = 20e3;

/// Gathers the first second of samples.
#[derive(Debug, Default)]
pub(in crate::cli) struct Rest {
    first_s: Option<f64>,
    count: u64,
    mean: f64,
    /// Sum of squared differences from the mean (Welford 1962, Technometrics 4, 419).
    squares: f64,
    lowest: f64,
    highest: f64,
    done: bool,
}

impl Rest {
    /// Takes samples; gives the reading, or why there is none, once there are enough.
    pub(in crate::cli) fn take(
        &mut self,
        samples: &[RawSample],
        protocol: &ProtocolFile,
    ) -> Option<Result<String, String>> {
        if self.done {
            return None;
        }
        for sample in samples {
            let pa = sample.pressure.pa();
            let first_s = *self.first_s.get_or_insert(sample.time.s());
            if self.count == 0 {
                (self.lowest, self.highest) = (pa, pa);
            }
            self.count += 1;
            let off = pa - self.mean;
            self.mean += off / self.count as f64;
            self.squares += off * (pa - self.mean);
            self.lowest = self.lowest.min(pa);
            self.highest = self.highest.max(pa);
            if sample.time.s() - first_s >= LONG_ENOUGH_S && self.count > 1 {
                self.done = true;
                return Some(self.reading(protocol));
            }
        }
        None
    }

    fn reading(&self, protocol: &ProtocolFile) -> Result<String, String> {
        if self.highest - self.lowest > MOVING_PA {
            return Err("no reading at rest: the pressure moved in the first second".to_owned());
        }
        let deviation = libm::sqrt(self.squares / (self.count - 1) as f64);
        let what = match protocol.reference() {
            Reference::Gauge => "gauge",
            Reference::Absolute => "absolute",
        };
        Ok(format!(
            "at rest: {:.2} kPa {what}, standard deviation {:.2} kPa over {} samples",
            Pressure::from_pa(self.mean).kpa(),
            deviation * 1e-3,
            self.count
        ))
    }
}
