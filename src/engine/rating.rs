//! Whether a sensor bears what an engine makes: an over-pressured sensor can burst in the face of
//! whoever stands over it.
//!
//! The rule (own): what the engine may read, by its manual or by calculation, must leave a tenth
//! of the sensor's range free. Within that tenth there is a warning; a diesel is refused, and so
//! is an engine whose least expected reading is above the range already. What a sensor stands
//! beyond its range is on its data sheet, and is not counted on.

use super::expected::{by_ratio, expected};
use super::{Ambient, Condition, EngineKind, JobCard};
use crate::units::{Pressure, PressureUnit};

/// Share of the range up to which readings may come.
const USABLE: f64 = 0.9;
/// What a diesel makes when cranked, low and high, where neither its manual nor its ratio is on
/// the card: 30 to 40 bar, common practice, no source. (350 psi are printed for one at 250 rpm,
/// TM 5-2420-230-24-2; at least 515 psi for another at 600 rpm, TM 5-3895-359-14&P.)
const DIESEL: (Pressure, Pressure) = (Pressure::from_pa(3.0e6), Pressure::from_pa(4.0e6));
/// Compression ratios of petrol engines that a sensor is held against.
const PETROL_RATIOS: core::ops::RangeInclusive<u32> = 4..=16;

/// What an engine may read, with what that rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reach {
    /// The least.
    pub low: Pressure,
    /// The most.
    pub high: Pressure,
    /// What it rests on.
    pub basis: &'static str,
}

/// How a sensor and an engine go together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Rating {
    /// The sensor bears what the engine makes.
    Fit,
    /// What the engine makes is not known.
    EngineUnknown {
        /// Upper end of the sensor's range, gauge.
        top: Pressure,
    },
    /// What the sensor bears is not known.
    SensorUnknown {
        /// It is known to be a diesel.
        diesel: bool,
    },
    /// What the engine may read comes within a tenth of the sensor's top, or above it.
    Near {
        /// What the engine may read.
        reach: Reach,
        /// Upper end of the sensor's range, gauge.
        top: Pressure,
        /// It is known to be a diesel.
        diesel: bool,
    },
}

impl Rating {
    /// Holds an engine against a sensor with this upper end of its range, gauge, if it is known.
    pub fn of(card: Option<&JobCard>, top: Option<Pressure>) -> Self {
        let diesel = EngineKind::of(card).is_diesel();
        let Some(top) = top else {
            return Self::SensorUnknown { diesel };
        };
        match card.and_then(reach) {
            None => Self::EngineUnknown { top },
            Some(reach) if reach.high > top * USABLE => Self::Near { reach, top, diesel },
            Some(_) => Self::Fit,
        }
    }

    /// Why nobody should crank with this sensor; none if one may.
    pub fn refusal(&self, unit: PressureUnit) -> Option<String> {
        match self {
            Self::SensorUnknown { diesel: true } => Some(
                "the protocol file does not say how much pressure the sensor bears, and a diesel \
                 makes two to three times as much as a petrol engine: an over-pressured sensor can \
                 burst in your face"
                    .to_owned(),
            ),
            Self::Near { reach, top, diesel } if *diesel || reach.low > *top => Some(format!(
                "the sensor bears {} and this engine may make {} to {} ({}): an over-pressured \
                 sensor can burst in your face",
                top.show(unit),
                reach.low.digits(unit),
                reach.high.show(unit),
                reach.basis,
            )),
            _ => None,
        }
    }

    /// What to do where [`Self::refusal`] says no.
    pub const REMEDY: &str = "use a sensor of a larger range; if this one bears more, correct \
                              range_high in its protocol file from the data sheet; if the engine's \
                              manual prints less, put it on the card (limits.normal_high)";

    /// What to mind about the sensor before cranking; none if nothing.
    pub fn warning(&self, unit: PressureUnit) -> Option<String> {
        match self {
            Self::Fit => None,
            Self::EngineUnknown { top } => Some(format!(
                "What this engine makes is not known. The sensor bears {}, which serves {}.",
                top.show(unit),
                serves(*top, unit)
            )),
            Self::SensorUnknown { .. } => Some(
                "The protocol file does not say how much pressure the sensor bears. Look at its \
                 data sheet before you crank: beyond its range it can burst."
                    .to_owned(),
            ),
            Self::Near { reach, top, .. } => Some(format!(
                "This engine may make {} to {} ({}), the sensor bears {}: use one of a larger \
                 range, beyond it a sensor can burst.",
                reach.low.digits(unit),
                reach.high.show(unit),
                reach.basis,
                top.show(unit),
            )),
        }
    }
}

/// What an engine may read at the most, as far as its card tells.
pub fn reach(card: &JobCard) -> Option<Reach> {
    let stated = card.limits.as_ref().and_then(|limits| limits.normal_high);
    if let Some(high) = stated {
        return Some(Reach {
            low: card
                .limits
                .as_ref()
                .and_then(|limits| limits.normal_low)
                .unwrap_or(high),
            high,
            basis: "the card's normal reading",
        });
    }
    if EngineKind::of(Some(card)).is_diesel() {
        return Some(diesel(card));
    }
    // Should its decompressor fail to open, it makes all that the calculation says.
    let mut shut = card.clone();
    shut.engine.decompressor = None;
    let ambient = Ambient::of(card.site.as_ref());
    let expected = expected(&shut, &ambient, None, Condition::WarmDry)?;
    let half = expected.standard * 2.0;
    // Nobody is turned away for the calculation's sake: the least is what the ratio alone gives.
    let least = by_ratio(card.engine.compression_ratio?, &ambient)?;
    Some(Reach {
        low: (least.likely - least.standard * 2.0).min(expected.likely - half),
        high: expected.likely + half,
        basis: "calculated",
    })
}

/// The range that a sensor needs for this engine, as far as its card tells.
pub fn needed(card: &JobCard) -> Option<Pressure> {
    Some(reach(card)?.high * (1.0 / USABLE))
}

/// A diesel by its compression ratio, or as diesels are.
fn diesel(card: &JobCard) -> Reach {
    let ambient = Ambient::of(card.site.as_ref());
    let ratio = card.engine.compression_ratio;
    match ratio.and_then(|ratio| by_ratio(ratio, &ambient)) {
        Some(expected) => Reach {
            low: expected.likely - expected.standard * 2.0,
            high: expected.likely + expected.standard * 2.0,
            basis: "calculated from the ratio",
        },
        None => Reach {
            low: DIESEL.0,
            high: DIESEL.1,
            basis: "usual for diesels; common practice, no source",
        },
    }
}

/// What engines a sensor of this range serves, in words.
pub fn serves(top: Pressure, unit: PressureUnit) -> String {
    let usable = top * USABLE;
    let air = Ambient::of(None);
    let bears = |ratio: &u32| {
        by_ratio(f64::from(*ratio), &air)
            .is_some_and(|expected| expected.likely + expected.standard * 2.0 <= usable)
    };
    let Some(ratio) = PETROL_RATIOS.take_while(bears).last() else {
        return "no engine".to_owned();
    };
    let diesel = if bears_a_diesel(top) {
        "usual diesels (30 to 40 bar; common practice, no source)"
    } else {
        "no diesel"
    };
    format!(
        "petrol engines up to {ratio}:1 whatever their timing, others that are known to make no \
         more than {} (calculated); {diesel}",
        usable.show(unit)
    )
}

/// Whether a sensor of this range bears what diesels usually make.
pub fn bears_a_diesel(top: Pressure) -> bool {
    top * USABLE >= DIESEL.1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(value: f64) -> Pressure {
        Pressure::new(value, PressureUnit::Bar)
    }

    /// Printed figures on both sides of the rule: a petrol fork lift of 125 psi (TM
    /// 10-3930-618-20), a diesel of 350 psi (TM 5-2420-230-24-2).
    #[test]
    fn printed_figures_fall_on_the_right_side() {
        let card = |ignition: &str, high: &str| {
            JobCard::parse(&format!(
                "format = \"needlerest-card\"\nversion = 1\n[engine]\nlabel = \"x\"\ncycle = \
                 \"four-stroke\"\nignition = \"{ignition}\"\n[limits]\nnormal_high = \"{high}\"\n\
                 [[cylinder]]\nname = \"1\"\n"
            ))
            .expect("a card")
        };
        let petrol = card("spark", "125 psi");
        assert_eq!(Rating::of(Some(&petrol), Some(bar(25.0))), Rating::Fit);
        // 125 psi are 8.62 bar: within a tenth of 9.5 bar, not of 9.6 bar.
        assert_eq!(Rating::of(Some(&petrol), Some(bar(9.6))), Rating::Fit);
        let near = Rating::of(Some(&petrol), Some(bar(9.5)));
        assert!(
            near.warning(PressureUnit::Bar).is_some() && near.refusal(PressureUnit::Bar).is_none()
        );
        let diesel = card("compression", "350 psi");
        let refused = Rating::of(Some(&diesel), Some(bar(25.0)));
        assert!(
            refused
                .refusal(PressureUnit::Bar)
                .is_some_and(|why| why.contains("25"))
        );
        assert_eq!(Rating::of(Some(&diesel), Some(bar(60.0))), Rating::Fit);
    }

    #[test]
    fn a_larger_range_serves_more() {
        assert!(serves(bar(1.0), PressureUnit::Bar).contains("no engine"));
        let usual = serves(bar(25.0), PressureUnit::Bar);
        assert!(
            usual.contains("10:1") && usual.contains("no diesel"),
            "{usual}"
        );
        assert!(serves(bar(60.0), PressureUnit::Bar).contains("usual diesels"));
    }
}
