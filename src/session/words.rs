//! What is counted, in words: strokes, kicks or pulls.

use crate::engine::Start;
use crate::signal::{Count, Turned};

/// `stroke`, `kick` or `pull`.
pub const fn counted(turned: Turned, start: Option<Start>) -> &'static str {
    match (turned, start) {
        (Turned::InKicks, Some(Start::PullCord)) => "pull",
        (Turned::InKicks, _) => "kick",
        _ => "stroke",
    }
}

/// How the engine is turned over, in words.
pub(super) struct Verb {
    /// `crank`
    pub(super) base: &'static str,
    /// `cranking`
    pub(super) going_on: &'static str,
    /// `CRANK`
    pub(super) order: &'static str,
    /// `CRANK ON`
    pub(super) go_on: &'static str,
    /// `FIT & CRANK`
    pub(super) fit: &'static str,
}

/// By a starter, or as the card says.
pub(super) const fn verb(start: Option<Start>) -> Verb {
    match start {
        Some(Start::Kick) => Verb {
            base: "kick",
            going_on: "kicking",
            order: "KICK",
            go_on: "KICK ON",
            fit: "FIT & KICK",
        },
        Some(Start::PullCord) => Verb {
            base: "pull",
            going_on: "pulling",
            order: "PULL",
            go_on: "PULL ON",
            fit: "FIT & PULL",
        },
        Some(Start::Electric | Start::HandCrank) | None => Verb {
            base: "crank",
            going_on: "cranking",
            order: "CRANK",
            go_on: "CRANK ON",
            fit: "FIT & CRANK",
        },
    }
}

/// What STOP waits for, in a few words; none where a rise must be seen first.
pub(super) fn to_go(count: &Count, start: Option<Start>) -> Option<String> {
    let what = counted(count.turned, start);
    let (more, s) = match count.to_go? {
        1 => ("One", "s"),
        2 => ("Two", ""),
        _ => ("Three", ""),
    };
    let plural = if s.is_empty() { "s" } else { "" };
    Some(format!(
        "{more} more {what}{plural} that lift{s} nothing, then STOP."
    ))
}

/// As a sentence begins.
pub(super) fn sentence(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
