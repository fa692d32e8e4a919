//! Text in block letters, as large as fits.

use super::font::{HEIGHT, WIDTH, rows};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

/// A pixel of scale `k` is `k` columns wide and `k` half rows high, which is about square.
pub(super) const LARGEST: u16 = 6;

/// A dot needs less room than a letter.
const fn pixels(letter: char) -> u16 {
    if letter == '.' { 3 } else { WIDTH }
}

/// Columns that `text` takes at scale `k`.
pub(super) fn columns(text: &str, k: u16) -> u16 {
    let pixels: usize = text.chars().map(|c| usize::from(pixels(c)) + 1).sum();
    u16::try_from(pixels.saturating_sub(1))
        .unwrap_or(u16::MAX)
        .saturating_mul(k)
}

/// Whether there is a letter for each of these.
pub(super) fn can_write(text: &str) -> bool {
    text.chars().all(|c| c == ' ' || rows(c) != rows(' '))
}

/// Rows that block letters take at scale `k`.
pub(super) const fn lines(k: u16) -> u16 {
    (HEIGHT * k).div_ceil(2)
}

/// The largest scale at which `text` fits into so many columns and rows; none if it does not.
pub(super) fn scale(text: &str, width: u16, height: u16) -> Option<u16> {
    (1..=LARGEST)
        .rev()
        .find(|&k| columns(text, k) <= width && lines(k) <= height)
}

/// Draws `text` at scale `k` from the top left corner of `area`; gives the columns it took.
pub(super) fn draw(text: &str, k: u16, area: Rect, style: Style, buf: &mut Buffer) -> u16 {
    let mut left = 0;
    for letter in text.chars() {
        draw_letter(letter, k, left, area, style, buf);
        left += (pixels(letter) + 1) * k;
    }
    left.saturating_sub(k)
}

fn draw_letter(letter: char, k: u16, left: u16, area: Rect, style: Style, buf: &mut Buffer) {
    let shape = rows(letter);
    // A narrow letter's pixels are in the middle of the five.
    let skip = (WIDTH - pixels(letter)) / 2;
    let set = |x: u16, half_row: u16| {
        let row = shape.get(usize::from(half_row / k)).copied().unwrap_or(0);
        row >> (WIDTH - 1 - (x / k + skip).min(WIDTH - 1)) & 1 == 1
    };
    for y in 0..lines(k) {
        for x in 0..pixels(letter) * k {
            let symbol = match (set(x, 2 * y), set(x, 2 * y + 1)) {
                (true, true) => "█",
                (true, false) => "▀",
                (false, true) => "▄",
                (false, false) => continue,
            };
            let at = (area.x + left + x, area.y + y);
            if area.contains(at.into())
                && let Some(cell) = buf.cell_mut(at)
            {
                cell.set_symbol(symbol).set_style(style);
            }
        }
    }
}
