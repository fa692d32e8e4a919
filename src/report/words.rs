//! Words shared by every output: names made safe to show, and what judgements, grades and causes are
//! called.

pub use crate::assess::many;
use crate::assess::{CauseKind, Judgement, Role};
use crate::signal::{Grade, Outcome, Rig};
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
