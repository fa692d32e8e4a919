//! Plain mode: one line an event, for screen readers, logs and pipes; and words instead of keys.

use super::hands::Wish;
use crate::cli::out;
use crate::session::{Command, Trouble};
use std::io::{self, BufRead, Write};
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

/// Every word, for the help.
pub(super) const WORDS: &str = "go (or an empty line), skip, redo, undo, say, name NAME, note TEXT, throttle, \
                                battery, warm, wet, oil-in, \
                                leak-down [CYLINDER], tester, heard PLACES, pause, finish, stop; in practice: kick, bleed";

/// One line an event, with its time in the recording.
pub(super) fn line(t_us: u64, text: &str) -> io::Result<()> {
    let seconds = t_us as f64 / 1e6;
    let mut out = out::stdout();
    out.line(format!("{seconds:8.2} s  {text}"))?;
    out.flush()
}

/// Words from standard input, as they come, an empty line for Enter; `Err` holds what was not understood.
pub(super) fn words() -> UnboundedReceiver<Result<Wish, String>> {
    let (send, receive) = unbounded_channel();
    std::thread::spawn(move || {
        for line in io::stdin().lock().lines() {
            let Ok(line) = line else { return };
            if send.send(wish(&line)).is_err() {
                return;
            }
        }
    });
    receive
}

fn wish(line: &str) -> Result<Wish, String> {
    let line = line.trim();
    let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
    let rest = rest.trim().to_owned();
    let command = match word.to_ascii_lowercase().as_str() {
        "" | "go" | "read" => Command::Go,
        "skip" => Command::Skip,
        "redo" | "again" => Command::Redo,
        "name" if !rest.is_empty() => Command::Name(rest),
        "note" if !rest.is_empty() => Command::Note(rest),
        "throttle" => Command::Trouble(Trouble::Throttle),
        "battery" => Command::Trouble(Trouble::Battery),
        "undo" | "u" => Command::Undo,
        "say" => Command::Say,
        "warm" => Command::Warm,
        "wet" | "oil" => Command::Wet,
        "oil-in" => Command::OilIn,
        "leak-down" => Command::LeakDown((!rest.is_empty()).then_some(rest)),
        "tester" => Command::CheckTester,
        "heard" if !rest.is_empty() => Command::Heard(rest),
        "pause" => Command::Pause,
        "finish" => Command::Finish,
        "stop" | "q" => return Ok(Wish::Stop),
        "kick" | "crank" => return Ok(Wish::Kick),
        "bleed" => return Ok(Wish::Bleed),
        _ => {
            return Err(format!(
                "\"{line}\" is not understood; the words are {WORDS}"
            ));
        }
    };
    Ok(Wish::Session(command))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_stand_for_keys() {
        let name = Command::Name("left bank 2".to_owned());
        assert_eq!(wish("  name  left bank 2 "), Ok(Wish::Session(name)));
        assert_eq!(wish("  "), Ok(Wish::Session(Command::Go)));
        assert_eq!(wish("OIL"), Ok(Wish::Session(Command::Wet)));
        assert!(wish("name").is_err_and(|why| why.contains("finish")));
        assert!(wish("explode").is_err());
    }
}
