//! Words shared by every output: names made safe to show, and what flags, judgements, grades and
//! causes are called.

use crate::assess::{CauseKind, Judgement, Role};
use crate::engine::{EngineKind, ReadingOnly};
use crate::signal::{Flag, Grade, Outcome, Rig};
use crate::units::PressureUnit;
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// The text with control characters (which could steer a terminal) and direction overrides (which
/// could make it read as something else) replaced by `�`.
pub fn clean(text: &str) -> String {
    text.chars()
        .map(|c| if steers(c) { '\u{fffd}' } else { c })
        .collect()
}

/// A moment (RFC 3339) as people write it; one that is none as it stands.
pub fn moment(text: &str) -> String {
    let read = text.parse::<jiff::Timestamp>();
    read.map_or_else(
        |_| clean(text),
        |moment| moment.strftime("%-d %B %Y, %H:%M:%S UTC").to_string(),
    )
}

/// A moment (RFC 3339) without parts of a second; one that is none as it stands.
pub fn to_the_second(text: &str) -> String {
    let read = text.parse::<jiff::Timestamp>();
    read.map_or_else(
        |_| clean(text),
        |moment| moment.strftime("%Y-%m-%dT%H:%M:%SZ").to_string(),
    )
}

/// Whether a character can steer a terminal or turn the direction of what follows.
pub(crate) fn steers(c: char) -> bool {
    let direction = matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}' | '\u{61c}');
    c.is_control() || direction || matches!(c, '\u{2028}' | '\u{2029}')
}

/// Cleaned, and cut to at most so many columns, with `…` for what is cut off.
pub fn shorten(text: &str, columns: usize) -> String {
    let text = clean(text);
    if text.width() <= columns {
        return text;
    }
    let mut kept = String::new();
    let mut used = 0;
    for c in text.chars() {
        used += c.width().unwrap_or(0);
        if used + 1 > columns {
            break;
        }
        kept.push(c);
    }
    kept + "…"
}

/// No line ends after this space.
const NO_BREAK: char = '\u{a0}';
/// What stays on the line of the number before it.
const UNITS: [&str; 26] = [
    "psi", "bar", "mbar", "kPa", "hPa", "MPa", "Pa", "kgf/cm²", "kgf/cm2", "inHg", "mmHg", "%",
    "°C", "°F", "K", "m", "mm", "mm²", "cm", "cm³", "ml", "s", "ms", "Hz", "kHz", "min",
];

/// The text with spaces that no line breaks at around `±` and between a number and its unit.
pub fn bind(text: &str) -> String {
    let mut bound = String::with_capacity(text.len() + 8);
    for (at, c) in text.char_indices() {
        let joins = c == ' ' && {
            let (before, after) = (&text[..at], &text[at + 1..]);
            let word = after.split([' ', ',', ';', ':', ')', '.']).next();
            let number = before.ends_with(|c: char| c.is_ascii_digit());
            let unit = word.is_some_and(|word| UNITS.contains(&word));
            before.ends_with('±') || after.starts_with('±') || (number && unit)
        };
        bound.push(if joins { NO_BREAK } else { c });
    }
    bound
}

/// Wrapped to so many columns, numbers kept with their units; ordinary spaces again.
pub fn fill<'a>(text: &str, options: impl Into<textwrap::Options<'a>>) -> String {
    textwrap::fill(&bind(text), options).replace(NO_BREAK, " ")
}

/// What a judgement is called.
pub const fn judgement(judgement: Judgement) -> &'static str {
    match judgement {
        Judgement::Pass => "pass",
        Judgement::Fail => "fail",
        Judgement::Unconfirmed => "low, not confirmed",
        Judgement::TooCloseToCall => "too close to call",
        Judgement::Incomplete => "incomplete",
        Judgement::NotJudged => "not judged",
    }
}

/// A sign that stands beside the word.
pub const fn judgement_sign(judgement: Judgement) -> &'static str {
    match judgement {
        Judgement::Pass => "✓",
        Judgement::Fail => "✗",
        Judgement::Unconfirmed => "?",
        Judgement::TooCloseToCall => "≈",
        Judgement::Incomplete => "…",
        Judgement::NotJudged => "–",
    }
}

/// What a rule counts for.
pub const fn role(role: Role) -> &'static str {
    match role {
        Role::Decides => "decides",
        Role::SecondOpinion => "second opinion",
        Role::Note => "note",
    }
}

/// What a grade of the test is called.
pub const fn grade(grade: Grade) -> &'static str {
    match grade {
        Grade::Good => "good",
        Grade::Fair => "fair",
        Grade::Poor => "poor",
    }
}

/// How the sensor sat.
pub const fn rig(rig: Option<Rig>) -> &'static str {
    match rig {
        Some(Rig::Holding) => "holding (check valve)",
        Some(Rig::Following) => "following (no check valve)",
        None => "not known",
    }
}

/// How a run ended.
pub const fn outcome(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Settled => "settled",
        Outcome::AtRest => "at rest",
        Outcome::StillClimbing => "still climbing",
        Outcome::NoReading => "no reading",
    }
}

/// What a score is.
pub const SCORE: &str = "% of what the worst cylinder should read";

/// What a cause is called.
pub const fn cause(kind: CauseKind) -> &'static str {
    match kind {
        CauseKind::Healthy => "nothing wrong",
        CauseKind::Rings => "piston rings or cylinder wall",
        CauseKind::Valve => "a valve",
        CauseKind::Gasket => "head gasket",
        CauseKind::RingsOrValve => "rings or a valve",
        CauseKind::HighCompression => "deposits, or less clearance",
        CauseKind::ValveTiming => "cam or valve timing",
        CauseKind::ThrottleShut => "throttle shut",
        CauseKind::SlowCranking => "turned too slowly",
        CauseKind::TesterLeak => "the tester leaks",
    }
}

/// What is to be minded about a test, and what to do about it.
pub struct Advice {
    /// What was seen, with its number.
    pub what: String,
    /// What to do.
    pub advice: &'static str,
}

/// `1 stroke`, `2 strokes`.
pub fn many(count: impl Into<u64>, what: &str) -> String {
    let count = count.into();
    let s = if count == 1 { "" } else { "s" };
    format!("{count} {what}{s}")
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

/// Puts a flag in words, for an engine of this kind.
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
        Flag::TooFewStrokes { strokes } => (format!("strokes made: only {strokes}"), flag.advice()),
        Flag::ThrottleMayBeShut { reading } => very_low(&reading.show(unit), kind, flag.advice()),
        Flag::SlowBuildUp { first_share } => (
            format!(
                "the reading builds up slowly: the first stroke gave {}",
                percent(*first_share)
            ),
            flag.advice(),
        ),
        Flag::Withdrawn { times } => (
            format!(
                "the pressure climbed again after it had settled ({})",
                many(*times, "time")
            ),
            flag.advice(),
        ),
        Flag::RigUnclear => (
            "whether a check valve is fitted could not be told".to_owned(),
            flag.advice(),
        ),
        Flag::BadSamples { samples } => (
            format!(
                "left out, as it could not be true: {}",
                many(*samples, "sample")
            ),
            flag.advice(),
        ),
        Flag::StrokesNotListed { strokes } => (
            format!("made, but not listed: {}", many(*strokes, "stroke")),
            flag.advice(),
        ),
    };
    Advice { what, advice }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_that_steers_a_terminal_gets_through() {
        assert_eq!(
            clean("a\u{1b}[31mb\u{202e}c\nd"),
            "a\u{fffd}[31mb\u{fffd}c\u{fffd}d"
        );
        assert_eq!(clean("Цилиндр 左 يسار"), "Цилиндр 左 يسار");
    }

    #[test]
    fn a_number_stays_with_its_unit() {
        assert_eq!(
            bind("1 reads 47.8 ± 1.2 psi (5.47 bar), 98 %: in 2 runs."),
            "1 reads 47.8\u{a0}±\u{a0}1.2\u{a0}psi (5.47\u{a0}bar), 98\u{a0}%: in 2 runs."
        );
        assert_eq!(
            fill("it reads 47.8 ± 1.2 psi", 20),
            "it reads\n47.8 ± 1.2 psi"
        );
    }

    #[test]
    fn a_moment_is_written_in_words() {
        assert_eq!(moment("2026-05-02T09:14:00Z"), "2 May 2026, 09:14:00 UTC");
        assert_eq!(
            moment("2026-05-02T09:14:00+02:00"),
            "2 May 2026, 07:14:00 UTC"
        );
        assert_eq!(
            to_the_second("2026-05-02T09:14:00.123456789Z"),
            "2026-05-02T09:14:00Z"
        );
        assert_eq!(moment("yesterday\n"), "yesterday\u{fffd}");
    }

    #[test]
    fn shortens_by_columns_not_by_bytes() {
        assert_eq!(shorten("left", 4), "left");
        assert_eq!(shorten("leftmost", 4), "lef…");
        assert_eq!(shorten("左左左", 4), "左…");
    }
}
