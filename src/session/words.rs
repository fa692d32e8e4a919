//! What is counted, in words.

use crate::signal::{Count, Turned};

/// `Stroke` or `Kick`.
pub(super) const fn one(turned: Turned) -> &'static str {
    match turned {
        Turned::ByStarter | Turned::ByHand => "Stroke",
        Turned::InKicks => "Kick",
    }
}

/// What STOP waits for, in a few words; none before anything can be said.
pub(super) fn to_go(count: &Count) -> Option<String> {
    let what = match (count.turned, count.to_go?) {
        (Turned::ByStarter | Turned::ByHand, 1) => "stroke that lifts",
        (Turned::ByStarter | Turned::ByHand, _) => "strokes that lift",
        (Turned::InKicks, 1) => "kick that lifts",
        (Turned::InKicks, _) => "kicks that lift",
    };
    let more = match count.to_go? {
        1 => "One",
        2 => "Two",
        3 => "Three",
        _ => return None,
    };
    Some(format!("{more} more {what} nothing, then STOP."))
}
