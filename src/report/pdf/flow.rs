//! Puts texts and plots one under the other, page after page.

use crate::report::chart::{Scene, covers, text_width};
use crate::report::words;

/// A4 in points.
pub(super) const PAGE: (f64, f64) = (595.28, 841.89);
const MARGIN: f64 = 45.0;
/// Room for texts and plots.
pub(super) const WIDTH: f64 = PAGE.0 - 2.0 * MARGIN;
const BOTTOM: f64 = PAGE.1 - 55.0;

/// Something on a page.
pub(super) enum Item {
    /// A line of text, `at` its base line.
    Text {
        at: (f64, f64),
        text: String,
        size: f64,
        bold: bool,
    },
    /// A thin line across.
    Rule { y: f64 },
    /// A plot, its upper left corner and how much it is scaled.
    Plot {
        at: (f64, f64),
        scene: Scene,
        scale: f64,
    },
}

/// Fills pages from top to bottom.
#[derive(Default)]
pub(super) struct Flow {
    pub(super) pages: Vec<Vec<Item>>,
    y: f64,
}

impl Flow {
    pub(super) fn new() -> Self {
        Self {
            pages: vec![Vec::new()],
            y: MARGIN,
        }
    }

    /// Begins a new page if there is no room for so much.
    fn need(&mut self, height: f64) {
        if self.y + height > BOTTOM {
            self.pages.push(Vec::new());
            self.y = MARGIN;
        }
    }

    fn put(&mut self, item: Item) {
        if let Some(page) = self.pages.last_mut() {
            page.push(item);
        }
    }

    /// Begins a new page.
    pub(super) fn page(&mut self) {
        self.need(PAGE.1);
    }

    pub(super) fn gap(&mut self, height: f64) {
        self.y += height;
    }

    /// A heading, kept with the text that follows.
    pub(super) fn heading(&mut self, text: &str) {
        self.heading_before(text, 70.0);
    }

    /// A heading, kept with what follows up to this height in points, its own counted.
    pub(super) fn heading_before(&mut self, text: &str, height: f64) {
        self.gap(14.0);
        self.need(height);
        self.put(Item::Rule { y: self.y });
        self.gap(6.0);
        self.paragraph(text, 12.0, true, 0.0);
        self.gap(2.0);
    }

    /// A text, wrapped, moved in by so much.
    pub(super) fn paragraph(&mut self, text: &str, size: f64, bold: bool, indent: f64) {
        for line in wrap(&drawable(&words::bind(text)), WIDTH - indent, size, bold) {
            self.need(size * 1.35);
            self.y += size * 1.35;
            let at = (MARGIN + indent, self.y - size * 0.3);
            self.put(Item::Text {
                at,
                text: line,
                size,
                bold,
            });
        }
    }

    /// A row of cells at the given places (from the left edge of the text).
    pub(super) fn row(&mut self, cells: &[Vec<String>], places: &[f64], size: f64, bold: bool) {
        let ends = places.iter().skip(1).copied().chain([WIDTH]);
        let cells: Vec<(f64, Vec<String>)> = cells
            .iter()
            .zip(places.iter().zip(ends))
            .map(|(lines, (from, to))| {
                let lines = lines.iter().map(|line| drawable(line));
                let wrapped = lines.flat_map(|line| wrap(&line, to - from - 8.0, size, bold));
                (*from, wrapped.collect())
            })
            .collect();
        let height = cells
            .iter()
            .map(|(_, lines)| lines.len())
            .max()
            .unwrap_or(0) as f64
            * size
            * 1.3;
        self.need(height + 6.0);
        for (from, lines) in cells {
            for (n, text) in lines.into_iter().enumerate() {
                let at = (
                    MARGIN + from,
                    self.y + (n as f64 + 1.0) * size * 1.3 - size * 0.25,
                );
                self.put(Item::Text {
                    at,
                    text,
                    size,
                    bold,
                });
            }
        }
        self.y += height + 3.0;
        self.put(Item::Rule { y: self.y });
        self.y += 3.0;
    }

    /// Plots, as many beside each other as `columns`.
    pub(super) fn plots(&mut self, scenes: Vec<Scene>, columns: usize) {
        let room = WIDTH / columns as f64;
        let mut scenes = scenes.into_iter().peekable();
        while scenes.peek().is_some() {
            let row: Vec<Scene> = scenes.by_ref().take(columns).collect();
            let scale = |scene: &Scene| (room - 8.0) / scene.width;
            let height = row.iter().map(|s| s.height * scale(s)).fold(0.0, f64::max);
            self.need(height + 8.0);
            for (n, scene) in row.into_iter().enumerate() {
                let at = (MARGIN + room * n as f64, self.y);
                let scale = scale(&scene);
                self.put(Item::Plot { at, scene, scale });
            }
            self.y += height + 8.0;
        }
    }
}

/// The text with a square for each letter that the carried font cannot draw by itself.
fn drawable(text: &str) -> String {
    let mut buffer = [0; 4];
    text.chars()
        .map(|c| if c == '\n' { ' ' } else { c })
        .map(|c| {
            if covers(c.encode_utf8(&mut buffer)) {
                c
            } else {
                '□'
            }
        })
        .collect()
}

/// Breaks a text into lines of at most `width` points; a word that is longer is cut.
fn wrap(text: &str, width: f64, size: f64, bold: bool) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split(' ') {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if text_width(&longer, size, bold) <= width {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for c in word.chars() {
            line.push(c);
            if text_width(&line, size, bold) > width && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::replace(&mut line, c.to_string()));
            }
        }
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_is_wider_than_asked() {
        let text = format!("some words and {} then more", "averylongword".repeat(20));
        let lines = wrap(&text, 120.0, 10.0, false);
        assert!(
            lines
                .iter()
                .all(|line| text_width(line, 10.0, false) <= 120.0)
        );
        let letters = |s: &str| s.replace(' ', "");
        assert_eq!(letters(&lines.concat()), letters(&text));
    }
}
