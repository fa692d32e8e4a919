//! What engines usually read, for someone who has no manual at hand: calculated and by rule of
//! thumb from the compression ratio, and figures that were printed for one kind of engine. None
//! of it replaces the manual, and no verdict is founded on it.

use super::expected::by_ratio;
use super::{Ambient, Ignition};
use crate::units::{Pressure, PressureUnit};

/// Compression ratios that a table lists.
pub const RATIOS: [f64; 8] = [5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0];

/// What the calculated range rests on.
pub const CALCULATED: &str = "calculated: p2/p1 = r^n, effective ratio 0.75 to 0.95 of the \
                              geometric one, exponent 1.20 to 1.35; no leak, sea level";

/// What the rule of thumb rests on.
pub const BY_THUMB: &str = "17 to 20 psi for each unit of the ratio; common practice, no source";

/// Gauge pressure (low, high) that the ratio predicts in these surroundings, any speed and
/// closing angle considered; [`CALCULATED`] says by what. None where the ratio is no number.
pub fn calculated(ratio: f64, ambient: &Ambient) -> Option<(Pressure, Pressure)> {
    let expected = by_ratio(ratio, ambient)?;
    let half = expected.standard * 2.0;
    Some((expected.likely - half, expected.likely + half))
}

/// The workshop's rule of thumb for petrol engines, low and high; [`BY_THUMB`] says which.
pub fn by_thumb(ratio: f64) -> (Pressure, Pressure) {
    let psi = |each: f64| Pressure::new(each * ratio, PressureUnit::Psi);
    (psi(17.0), psi(20.0))
}

/// A figure printed for one kind of engine.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Printed {
    /// The kind of engine.
    pub engine: &'static str,
    /// What lights its mixture.
    pub ignition: Ignition,
    /// Lowest pressure, in psi, as it is printed.
    pub low_psi: f64,
    /// Highest pressure, in psi, where one is printed.
    pub high_psi: Option<f64>,
    /// What the figure is: normal, lowest, …
    pub meaning: &'static str,
    /// Where it is printed.
    pub source: &'static str,
}

/// Printed figures, cranked at starting speed.
pub const PRINTED: [Printed; 5] = [
    Printed {
        engine: "light truck, petrol",
        ignition: Ignition::Spark,
        low_psi: 85.0,
        high_psi: None,
        meaning: "normal: this or more",
        source: "US Army Ordnance course OD1001, lesson 3, learning event 2",
    },
    Printed {
        engine: "fork lift, petrol",
        ignition: Ignition::Spark,
        low_psi: 120.0,
        high_psi: Some(125.0),
        meaning: "normal",
        source: "TM 10-3930-618-20, paragraph 2-12",
    },
    Printed {
        engine: "car, petrol",
        ignition: Ignition::Spark,
        low_psi: 100.0,
        high_psi: None,
        meaning: "no cylinder below this",
        source: "a car maker's service manual, engine compression test, 2006",
    },
    Printed {
        engine: "diesel, new, 250 rpm",
        ignition: Ignition::Compression,
        low_psi: 350.0,
        high_psi: None,
        meaning: "about this",
        source: "TM 5-2420-230-24-2, page 14-22",
    },
    Printed {
        engine: "diesel, used, 250 rpm",
        ignition: Ignition::Compression,
        low_psi: 300.0,
        high_psi: None,
        meaning: "about this",
        source: "TM 5-2420-230-24-2, page 14-22",
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    /// A published worked example: 10:1, 7.5:1 effective, n = 1.3, 14.7 psi give 187.1 psi gauge
    /// (Wikipedia, "Compression ratio", on the dynamic ratio; read in a copy without a date). It
    /// must lie within the calculated range.
    #[test]
    fn a_published_example_lies_in_the_calculated_range() {
        let (low, high) = calculated(10.0, &Ambient::of(None)).expect("a range");
        let example = Pressure::new(187.1, PressureUnit::Psi);
        assert!(low < example && example < high, "{low:?} {high:?}");
    }

    #[test]
    fn ranges_rise_with_the_ratio_and_are_the_right_way_round() {
        let ranges = RATIOS.map(|r| calculated(r, &Ambient::of(None)).expect("a range"));
        assert!(ranges.iter().all(|(low, high)| low < high));
        assert!(
            ranges
                .windows(2)
                .all(|w| w[0].0 < w[1].0 && w[0].1 < w[1].1)
        );
        assert!(calculated(f64::NAN, &Ambient::of(None)).is_none());
    }
}
