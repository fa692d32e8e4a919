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
