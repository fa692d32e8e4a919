//! Pages of text: the cautions, and what the keys do.

use super::blocks;
use super::text::line;
use super::theme::{BAR, STRONG};
use crate::engine::cautions::FIRST;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

/// The cautions, each with what it is about, from line `from` on; gives the line from which the last page is shown, so that
/// the caller knows whether there is more.
pub fn cautions_page(
    cautions: &[(&str, String)],
    from: usize,
    area: Rect,
    buf: &mut Buffer,
) -> usize {
    let width = usize::from(area.width.saturating_sub(4)).max(20);
    let mut lines: Vec<(String, Style)> = Vec::new();
    for text in textwrap::wrap(FIRST, width) {
        lines.push((text.into_owned(), STRONG));
    }
    for (about, text) in cautions {
        let text = format!("{about}. {text}");
        let layout = textwrap::Options::new(width)
            .initial_indent("▲ ")
            .subsequent_indent("  ");
        let wrapped = textwrap::wrap(&text, layout);
        lines.extend(wrapped.into_iter().map(|l| (l.into_owned(), Style::new())));
    }
    let head = "READ FIRST";
    let room = area.height.saturating_sub(2);
    let spare = room.saturating_sub(u16::try_from(lines.len()).unwrap_or(room));
    let k = blocks::scale(head, area.width.saturating_sub(4), spare).unwrap_or(0);
    page(
        &Page {
            head,
            k,
            lines,
            foot: "Enter: I have read them and will heed them",
            from,
        },
        area,
        buf,
    )
}

/// What the keys do, from line `from` on; gives the line from which the last page is shown.
pub fn help_page(keys: &[(&str, &str)], from: usize, area: Rect, buf: &mut Buffer) -> usize {
    let width = usize::from(area.width.saturating_sub(4)).max(20);
    let mut lines = Vec::new();
    for (key, what) in keys {
        let first = format!("{key:>5}  ");
        let layout = textwrap::Options::new(width)
            .initial_indent(&first)
            .subsequent_indent("       ");
        let wrapped = textwrap::wrap(what, layout);
        lines.extend(wrapped.into_iter().map(|l| (l.into_owned(), Style::new())));
    }
    let spare = usize::from(area.height) > lines.len() + 6;
    page(
        &Page {
            head: "KEYS",
            k: u16::from(spare),
            lines,
            foot: "Space: on. Any other key: back",
            from,
        },
        area,
        buf,
    )
}

struct Page<'a> {
    head: &'a str,
    k: u16,
    lines: Vec<(String, Style)>,
    foot: &'a str,
    from: usize,
}

fn page(page: &Page<'_>, area: Rect, buf: &mut Buffer) -> usize {
    let inner = Rect {
        x: area.x + 2.min(area.width),
        width: area.width.saturating_sub(4),
        ..area
    };
    let head = if page.k > 0 {
        blocks::draw(page.head, page.k, inner, STRONG, buf);
        blocks::lines(page.k)
    } else {
        line(page.head, inner, STRONG, buf);
        1
    };
    let room = usize::from(area.height.saturating_sub(head + 1));
    let last = page.lines.len().saturating_sub(room);
    let from = page.from.min(last);
    for (row, (text, style)) in page.lines.iter().skip(from).take(room).enumerate() {
        let y = inner.y + head + u16::try_from(row).unwrap_or(0);
        line(
            text,
            Rect {
                y,
                height: 1,
                ..inner
            },
            *style,
            buf,
        );
    }
    let more = if from < last { "  ↓" } else { "" };
    let foot = Rect {
        y: area.bottom().saturating_sub(1),
        height: 1.min(area.height),
        ..area
    };
    buf.set_style(foot, BAR);
    line(&format!(" {}{more}", page.foot), foot, BAR, buf);
    last
}
