//! The page that says where the phone finds the gauge.

use super::text::line;
use super::text::{below_each_other, wrapped};
use super::theme::{BAR, STRONG, Theme};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

/// Where the phone finds the gauge.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct PhonePage {
    /// The address as a QR code: dark where there is a block.
    pub code: Vec<String>,
    /// The address.
    pub url: String,
    /// How many phones are looking.
    pub looking: usize,
    /// They have buttons.
    pub control: bool,
}

/// Draws it: the code, where there is room for it, and the address in letters.
pub fn phone_page(page: &PhonePage, theme: Theme, area: Rect, buf: &mut Buffer) {
    let may = if page.control {
        "It may look and press buttons."
    } else {
        "It may look only."
    };
    let text = format!(
        "On the phone: scan this, or type the address below. {may} Whoever has the address sees \
         the gauge; keep it to yourself."
    );
    let mut words = wrapped(&text, area.width, 4);
    words.extend(wrapped(&page.url, area.width, 3));
    words.push(match page.looking {
        0 => "  No phone is looking yet.".to_owned(),
        1 => "  1 phone is looking.".to_owned(),
        many => format!("  {many} phones are looking."),
    });
    let rows = |lines: &[String]| u16::try_from(lines.len()).unwrap_or(u16::MAX);
    let (high, said) = (rows(&page.code), rows(&words));
    let wide = page.code.first().map_or(0, |line| line.chars().count());
    let fits = usize::from(area.width) >= wide + 2 && area.height > high.saturating_add(said);
    let mut top = area.y;
    if fits {
        let style = theme.code();
        let code = if style == Style::new() {
            page.code.iter().map(|line| inverted(line)).collect()
        } else {
            page.code.clone()
        };
        let place = Rect {
            x: area.x + 2,
            width: area.width - 2,
            height: high,
            ..area
        };
        for (row, text) in (place.y..).zip(&code) {
            buf.set_stringn(place.x, row, text, wide, style);
        }
        top += high;
    } else {
        let text = "The window is too small for the code: make it larger, or type the address.";
        let lines = wrapped(text, area.width, 2);
        words.splice(0..0, lines);
    }
    let below = Rect {
        y: top,
        height: area.bottom().saturating_sub(top + 1),
        ..area
    };
    below_each_other(&words, below, STRONG, buf);
    let foot = Rect {
        y: area.bottom().saturating_sub(1),
        height: 1.min(area.height),
        ..area
    };
    buf.set_style(foot, BAR);
    line(" Any key: the gauge. m: this page again", foot, BAR, buf);
}

/// In the terminal's own colours, most of which are light on dark, the light modules are drawn.
fn inverted(line: &str) -> String {
    let other = |c| match c {
        '█' => ' ',
        '▀' => '▄',
        '▄' => '▀',
        _ => '█',
    };
    line.chars().map(other).collect()
}
