//! What is to be minded about a test, and what to do about it.

use super::shown::many;
use crate::engine::{EngineKind, ReadingOnly};
use crate::signal::Flag;
use crate::units::PressureUnit;

/// What is to be minded about a test, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Advice {
    /// What was seen, with its number.
    pub what: String,
    /// What to do.
    pub advice: &'static str,
}

/// What to do about slow cranking.
fn faster(kind: &EngineKind) -> &'static str {
    if kind.is_diesel() {
        "Turn it faster (a charged battery, a whole kick or pull); a slow engine reads low."
    } else {
        "Turn it faster (a charged battery, a whole kick or pull) with the throttle wide open; a \
         slow engine reads low."
    }
}

/// A reading as low as a shut throttle makes it: of an engine that has one, and where nothing
/// known explains it.
fn very_low(reading: &str, kind: &EngineKind, usual: &'static str) -> (String, &'static str) {
    match kind.reading_only() {
        None => (
            format!("the reading is very low ({reading}), as with a shut throttle"),
            usual,
        ),
        Some(ReadingOnly::AutomaticDecompressor) => (
            format!("the reading is very low ({reading})"),
            "A decompressor that opens by itself makes it so; how much, is not known.",
        ),
        Some(ReadingOnly::Diesel) => (
            format!("the reading is very low ({reading})"),
            "Check the adapter and its seal, then repeat the run before blaming the engine.",
        ),
    }
}

/// What a flag says of the test, for an engine of this kind: the one advice that goes with it.
pub fn flag(flag: &Flag, unit: PressureUnit, kind: &EngineKind) -> Advice {
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let (what, advice) = match flag {
        Flag::NoStrokes => (
            "no compression stroke was found".to_owned(),
            "Check that the sensor is screwed in and streaming, then crank again.",
        ),
        Flag::StoppedEarly { strokes } => (
            format!(
                "cranking ended after {}, while the needle was still climbing",
                many(*strokes, "stroke")
            ),
            "Crank again, and go on until the screen says STOP.",
        ),
        Flag::NotZeroed => (
            "the sensor was not seen at rest before the first stroke".to_owned(),
            "Open the bleed and wait about two seconds before cranking.",
        ),
        Flag::ZeroOffset { offset } => (
            format!("at rest the sensor showed {}", offset.show(unit)),
            "Zero the sensor with the bleed open; if the offset returns, have it checked.",
        ),
        Flag::Clipped { samples } => (
            format!(
                "the sensor was at the end of its range for {}",
                many(*samples, "sample")
            ),
            "Use a sensor with a higher range: the true peak is higher than shown.",
        ),
        Flag::Undersampled { cut_off_share } => (
            format!(
                "too few samples a second: peaks may be up to {} too low",
                percent(*cut_off_share)
            ),
            "Set a higher sample rate, or fit a check valve at the plug hole.",
        ),
        Flag::LostInStroke { strokes } => (
            format!(
                "radio packets were lost within {}",
                many(*strokes, "stroke")
            ),
            "Bring the receiver closer to the sensor and repeat the run.",
        ),
        Flag::UnevenCadence { unevenness } => (
            format!("cranking was uneven (by {})", percent(*unevenness)),
            "Charge the battery (not while you crank), or turn the engine with a steadier hand.",
        ),
        Flag::SlowCadence { median } => (
            format!(
                "cranking was slow ({:.0} strokes a minute)",
                median.per_min()
            ),
            faster(kind),
        ),
        Flag::TesterLeaks { per_second } => (
            format!(
                "the held reading falls by {} a second",
                per_second.show(unit)
            ),
            "Look for a leak in the tester: check valve, hose, seal at the plug hole.",
        ),
        Flag::TooFewStrokes { strokes } => (
            format!("strokes made: only {strokes}"),
            "Repeat the run with at least five strokes.",
        ),
        Flag::ThrottleMayBeShut { reading } => very_low(
            &reading.show(unit),
            kind,
            "Open throttle and choke fully and block them open, then repeat the run before blaming the engine.",
        ),
        Flag::SlowBuildUp { first_share } => (
            format!(
                "the reading builds up slowly: the first stroke gave {}",
                percent(*first_share)
            ),
            "Use a shorter or thinner hose, or crank more strokes; compare cylinders only with the same hose.",
        ),
        Flag::Withdrawn { times } => (
            format!(
                "the pressure climbed again after it had settled ({})",
                many(*times, "time")
            ),
            "Crank on until the reading settles again.",
        ),
        Flag::RigUnclear => (
            "whether a check valve is fitted could not be told".to_owned(),
            "Say whether a check valve is fitted, or repeat the run with a few strokes more.",
        ),
        Flag::BadSamples { samples } => (
            format!(
                "left out, as it could not be true: {}",
                many(*samples, "sample")
            ),
            "Check the sensor, its battery and its protocol file if this goes on.",
        ),
        Flag::StrokesNotListed { strokes } => (
            format!("made, but not listed: {}", many(*strokes, "stroke")),
            "Let the pressure go between cylinders, or begin a new run.",
        ),
    };
    Advice { what, advice }
}

#[cfg(test)]
mod tests {
    use super::flag;
    use crate::engine::EngineKind;
    use crate::signal::Flag;
    use crate::units::PressureUnit;

    /// What to do is about what was wrong.
    #[test]
    fn advice_is_about_what_was_told() {
        let told = [
            (Flag::NoStrokes, "screwed in"),
            (Flag::NotZeroed, "bleed"),
            (Flag::TooFewStrokes { strokes: 1 }, "at least five strokes"),
            (Flag::LostInStroke { strokes: 2 }, "receiver closer"),
        ];
        let kind = EngineKind::of(None);
        for (seen, words) in told {
            let advice = flag(&seen, PressureUnit::Psi, &kind).advice;
            assert!(advice.contains(words), "{seen:?}: {advice}");
        }
    }
}
