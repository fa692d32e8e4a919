//! Plain text on the screen: shortened at a word, never cut within one.

use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use unicode_width::UnicodeWidthStr;

/// A line; what does not fit is left out, a word at a time.
pub(super) fn line(text: &str, area: Rect, style: Style, buf: &mut Buffer) {
    if area.height > 0 {
        let room = usize::from(area.width);
        buf.set_stringn(area.x, area.y, shortened(text, room), room, style);
    }
}

/// The same, at the right.
pub(super) fn right(text: &str, area: Rect, style: Style, buf: &mut Buffer) {
    let width = columns(text).min(area.width);
    let x = area.right() - width;
    line(text, Rect { x, width, ..area }, style, buf);
}

/// Lines below each other.
pub(super) fn below_each_other(lines: &[String], area: Rect, style: Style, buf: &mut Buffer) {
    for (y, text) in (area.y..area.bottom()).zip(lines) {
        line(
            text,
            Rect {
                y,
                height: 1,
                ..area
            },
            style,
            buf,
        );
    }
}

pub(super) fn columns(text: &str) -> u16 {
    u16::try_from(text.width()).unwrap_or(u16::MAX)
}

pub(super) fn rows(lines: &[String]) -> u16 {
    u16::try_from(lines.len()).unwrap_or(u16::MAX)
}

/// The text, or as many of its first words as fit, and `…` for the rest.
pub(super) fn shortened(text: &str, room: usize) -> String {
    if text.width() <= room {
        return text.to_owned();
    }
    let mut kept = text.trim_end();
    while let Some((before, _)) = kept.rsplit_once(' ') {
        kept = before.trim_end();
        if kept.width() < room && !kept.trim().is_empty() {
            return format!("{kept}…");
        }
    }
    // One word that is too long for the line by itself.
    let mut short = String::new();
    for letter in text.trim_start().chars() {
        short.push(letter);
        if short.width() >= room {
            short.pop();
            break;
        }
    }
    if room > 0 {
        short.push('…');
    }
    short
}

/// The first of these that fits; else the last one, shortened.
pub(super) fn fitting<T: AsRef<str>>(attempts: &[T], room: usize) -> String {
    let fits = attempts.iter().find(|text| text.as_ref().width() <= room);
    match fits.or(attempts.last()) {
        Some(text) => shortened(text.as_ref(), room),
        None => String::new(),
    }
}

/// A sentence in lines of this width, indented by two; what does not fit into so many lines is
/// left out at a word.
pub(super) fn wrapped(text: &str, width: u16, most: usize) -> Vec<String> {
    let room = usize::from(width).saturating_sub(2).max(1);
    let lines = textwrap::wrap(text, room);
    let kept = lines.iter().take(most);
    let mut kept: Vec<String> = kept.map(ToString::to_string).collect();
    if lines.len() > most
        && let Some(last) = kept.last_mut()
    {
        // One word more than there is room for: it goes, and the dots come.
        *last = shortened(&format!("{last} {}", "…".repeat(room)), room);
    }
    kept.iter().map(|line| format!("  {line}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_left_out_whole() {
        let text = "cylinder left reads 67 %";
        assert_eq!(shortened(text, 30), text);
        assert_eq!(shortened(text, 20), "cylinder left reads…");
        assert_eq!(shortened(text, 19), "cylinder left…");
        assert_eq!(shortened("Donaudampfschiff", 8), "Donauda…");
        assert_eq!(shortened("so", 0), "");
    }

    #[test]
    fn what_is_wrapped_ends_at_a_word() {
        let lines = wrapped("one two three four five six", 12, 2);
        assert_eq!(lines, ["  one two", "  three…"]);
        let lines = wrapped("one two three", 12, 2);
        assert_eq!(lines, ["  one two", "  three"]);
    }
}
