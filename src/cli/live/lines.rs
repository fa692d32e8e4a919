//! What is typed, a line at a time, while everything else goes on.

use std::io::BufRead;
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

/// Lines of standard input, as they come.
pub(in crate::cli) fn lines() -> UnboundedReceiver<String> {
    let (send, receive) = unbounded_channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines() {
            let Ok(line) = line else { return };
            if send.send(line).is_err() {
                return;
            }
        }
    });
    receive
}
