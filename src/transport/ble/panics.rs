//! A known flaw of the Bluetooth library on Linux: dropping one of its streams spawns a task that
//! unsubscribes from the message bus, and the task panics when a signal arrives at that moment or
//! when the bus is gone. The panic ends that task only, which had nothing left to do, but its
//! message would alarm the user.

use std::panic::{set_hook, take_hook};

/// The library's source file that holds the task.
const FLAWED: (&str, &str) = ("bluez-async", "messagestream.rs");

/// From now on the message of the flaw is not shown; every other panic is, as before.
pub fn hide_known_race() {
    let before = take_hook();
    set_hook(Box::new(move |info| {
        let file = info.location().map_or("", |place| place.file());
        if !(file.contains(FLAWED.0) && file.ends_with(FLAWED.1)) {
            before(info);
        }
    }));
}
