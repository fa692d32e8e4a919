//! What comes out.

use crate::units::{Pressure, Temperature, Time};

/// One sample, as the sensor tells it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RawSample {
    /// On the sensor's clock, from its first tick; without one, when it arrived on the host's.
    /// Always later than the sample before.
    pub time: Time,
    /// Gauge or absolute, as the protocol file says; never NaN or infinite.
    pub pressure: Pressure,
    /// The sensor's temperature, as last told.
    pub temperature: Option<Temperature>,
    /// The pressure was beyond the end of the range, and is known to be at least (or at most)
    /// this.
    pub out_of_range: bool,
    /// Samples are missing between this one and the one before.
    pub gap_before: bool,
}
