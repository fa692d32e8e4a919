//! The only way to standard output and standard error. Whatever could steer a terminal or turn the
//! direction of a text is made visible here, wherever it came from: names in recordings and on job
//! cards, what sensors advertise, what is quoted of a file, names of files. Only what this program
//! itself means to do (colours, the live list of `scan`) goes past, by functions of its own.

use crate::report::words::steers;
use anstream::AutoStream;
use anstyle::Style;
use std::borrow::Cow;
use std::fmt::{Display, Write as _};
use std::io::{self, StderrLock, StdoutLock, Write};

/// A stream that a person may read on a terminal.
#[derive(Debug)]
pub(super) struct Out<W: Write>(W);

/// Standard output.
pub(super) fn stdout() -> Out<AutoStream<StdoutLock<'static>>> {
    Out(anstream::stdout().lock())
}

/// Standard error.
pub(super) fn stderr() -> Out<AutoStream<StderrLock<'static>>> {
    Out(anstream::stderr().lock())
}

impl<W: Write> Out<W> {
    /// A word in a style, where the terminal has styles.
    pub(super) fn styled(&mut self, style: Style, word: &str) -> io::Result<()> {
        write!(self.0, "{style}")?;
        self.write_all(word.as_bytes())?;
        write!(self.0, "{style:#}")
    }

    /// One line: a line feed in the text, too, is made visible, so that no part of it can pass for
    /// a line of its own.
    pub(super) fn line(&mut self, text: impl Display) -> io::Result<()> {
        let text = text.to_string().replace('\n', "\u{240a}");
        writeln!(self, "{text}")
    }

    /// Goes up so many lines and clears what stands there and below.
    pub(super) fn clear_lines(&mut self, lines: usize) -> io::Result<()> {
        write!(self.0, "\x1b[{lines}A\x1b[J")
    }

    /// JSON and a line end: what steers is written as JSON can write it too, so that no reader of
    /// the JSON sees a difference.
    pub(super) fn json(&mut self, json: &str) -> io::Result<()> {
        writeln!(self.0, "{}", escaped(json.trim_end()))
    }

    /// What the reader of the command line says: help, or what is wrong. In its styles only where
    /// nothing in the words that it may quote (the process's arguments) could pass for one.
    pub(super) fn clap(&mut self, error: &clap::Error) -> io::Result<()> {
        let said = error.render();
        if std::env::args_os().any(|word| word.to_string_lossy().contains(steers)) {
            // Set in, so that no further line can pass for one of its own.
            let said = said.to_string();
            writeln!(self, "{}", said.trim_end().replace('\n', "\n  "))?;
        } else {
            write!(self.0, "{}", said.ansi())?;
        }
        self.flush()
    }
}

impl<W: Write> Write for Out<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let text = String::from_utf8_lossy(bytes);
        self.0.write_all(made_visible(&text).as_bytes())?;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

/// The text with everything that steers, but for line feeds, replaced by what can be seen.
pub(super) fn made_visible(text: &str) -> Cow<'_, str> {
    let hidden = |c: char| c != '\n' && steers(c);
    if !text.contains(hidden) {
        return Cow::Borrowed(text);
    }
    let shown = text.chars().map(|c| match c {
        '\t' => ' ',
        // Unicode has a picture for each of these, and one for the last of ASCII.
        '\0'..='\u{1f}' if c != '\n' => {
            char::from_u32(0x2400 + u32::from(c)).unwrap_or(char::REPLACEMENT_CHARACTER)
        }
        '\u{7f}' => '\u{2421}',
        c if hidden(c) => char::REPLACEMENT_CHARACTER,
        c => c,
    });
    Cow::Owned(shown.collect())
}

/// JSON with everything that steers as `\u…`. It can only stand in strings, as outside of them
/// there is no such character but the line feed.
fn escaped(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for c in json.chars() {
        if c != '\n' && steers(c) {
            // All of them lie below U+10000. Writing to a string cannot fail.
            let _ = write!(out, "\\u{:04x}", u32::from(c));
        } else {
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn printed(print: impl FnOnce(&mut Out<Vec<u8>>) -> io::Result<()>) -> String {
        let mut out = Out(Vec::new());
        print(&mut out).unwrap();
        String::from_utf8(out.0).unwrap()
    }

    #[test]
    fn every_control_is_seen_and_nothing_else_is_touched() {
        for code in (0..0xa0).chain(0x2000..0x2070).chain([0x61c]) {
            let c = char::from_u32(code).unwrap();
            let text = printed(|out| write!(out, "a{c}b"));
            assert_eq!(text.chars().count(), 3, "{code:x}");
            let shown = text.chars().nth(1).unwrap();
            assert!(shown == '\n' || !steers(shown), "{code:x}");
            if !steers(c) {
                assert_eq!(shown, c);
            }
        }
        let kept = "Цилиндр 左 يسار ± 1.2 – „x“\n";
        assert_eq!(printed(|out| write!(out, "{kept}")), kept);
        assert_eq!(printed(|out| out.write_all(b"\x9b31m")), "\u{fffd}31m");
    }

    #[test]
    fn json_means_the_same_afterwards() {
        let value = serde_json::json!({"name": "a\u{1b}[2J\u{9b}\u{202e}\u{7f}\n\"é"});
        for json in [
            value.to_string(),
            serde_json::to_string_pretty(&value).unwrap(),
        ] {
            let text = printed(|out| out.json(&json));
            assert!(!text.chars().any(|c| c != '\n' && steers(c)));
            let again: serde_json::Value = serde_json::from_str(&text).unwrap();
            assert_eq!(again, value);
        }
    }

    #[test]
    fn only_a_style_of_our_own_gets_through() {
        let bold = Style::new().bold();
        let text = printed(|out| out.styled(bold, "a\u{1b}[0m"));
        assert_eq!(text, "\u{1b}[1ma\u{241b}[0m\u{1b}[0m");
    }
}
