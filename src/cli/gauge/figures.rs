//! Cylinder and number in block letters of one size: beside each other, or one below the other
//! where that makes them larger.

use super::blocks;
use super::scene::{Number, Scene};
use super::text::{below_each_other, columns, fitting, line};
use super::theme::{STRONG, Theme};
use crate::engine::oil;
use crate::session::{Tone, UNNAMED};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

/// Columns beside the letters for what is known about the run in hand.
const BESIDE: u16 = 18;
/// Room for any reading, so that the size does not change from one to the next.
const USUAL: &str = "000.0";

/// What is written, and how large.
#[derive(Clone, Debug)]
pub(super) struct Figures {
    cylinder: Option<(&'static str, String)>,
    caption: String,
    number: String,
    about: Vec<String>,
    width: u16,
}

/// How large, and how they lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Size {
    k: u16,
    place: Place,
    /// What is known about the run is in a line below, not at the side.
    below: bool,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    Beside,
    Stacked,
    /// The cylinder only in a line above the number: all that there is room for.
    Alone,
}

impl Size {
    pub(super) fn scale(self) -> u16 {
        self.k
    }

    /// The cylinder is as large as the number.
    pub(super) fn is_whole(self) -> bool {
        self.place != Place::Alone
    }
}

impl Figures {
    pub(super) fn of(scene: &Scene, width: u16) -> Self {
        let (caption, number) = number(scene);
        Self {
            cylinder: scene.view.run.as_ref().map(|(name, _)| cylinder(name)),
            caption,
            number,
            about: about(scene),
            width,
        }
    }

    fn number_columns(&self, k: u16) -> u16 {
        blocks::columns(&self.number, k).max(blocks::columns(USUAL, k))
    }

    /// Columns of the cylinder's name and of the caption above it; none where it cannot be written
    /// in block letters.
    fn cylinder_columns(&self, k: u16) -> Option<u16> {
        let (_, name) = self.cylinder.as_ref()?;
        let what = self.cylinder_caption(k);
        // The caption may reach into the gap.
        let caption = (columns(what) + 2).saturating_sub(gap(k));
        let letters = blocks::columns(&large(name), k);
        blocks::can_write(&large(name)).then_some(letters.max(caption))
    }

    /// What stands above the cylinder's name: in short where the name is.
    fn cylinder_caption(&self, k: u16) -> &'static str {
        match &self.cylinder {
            Some(("cylinder", name)) if k == 1 && name.chars().count() == 1 => "cyl.",
            Some((what, _)) => what,
            None => "",
        }
    }

    /// Every size that fits into the width, with the rows that it takes.
    pub(super) fn sizes(&self) -> Vec<(Size, u16)> {
        let mut sizes = Vec::new();
        for k in (1..=blocks::LARGEST).rev() {
            for below in [false, true] {
                self.add_sizes(k, below, &mut sizes);
            }
        }
        sizes
    }

    fn add_sizes(&self, k: u16, below: bool, sizes: &mut Vec<(Size, u16)>) {
        let room = self.width.saturating_sub(4);
        let side = if below { 0 } else { BESIDE };
        // The line of captions, and that of what is known.
        let lines = 1 + u16::from(below);
        let (number, high) = (self.number_columns(k), blocks::lines(k));
        if number + side > room {
            return;
        }
        let mut add = |place, rows| sizes.push((Size { k, place, below }, rows + lines));
        match (&self.cylinder, self.cylinder_columns(k)) {
            (None, _) => add(Place::Beside, high),
            (Some(_), Some(name)) => {
                if name + gap(k) + number + side <= room {
                    add(Place::Beside, high);
                }
                if name <= room {
                    add(Place::Stacked, 2 * high + 1);
                }
                add(Place::Alone, high + 1);
            }
            (Some(_), None) => add(Place::Alone, high + 1),
        }
    }

    pub(super) fn draw(&self, size: Option<Size>, style: Style, area: Rect, buf: &mut Buffer) {
        let inner = Rect {
            x: area.x + 2.min(area.width),
            width: area.width.saturating_sub(4),
            ..area
        };
        match size {
            None => self.draw_plain(style, inner, buf),
            Some(size) => self.draw_large(size, style, inner, buf),
        }
    }

    /// Too small for block letters.
    fn draw_plain(&self, style: Style, area: Rect, buf: &mut Buffer) {
        let number = format!("{} {}", self.number, self.caption);
        let all = match &self.cylinder {
            Some((what, name)) => format!("{what} {name}: {number}"),
            None => number.clone(),
        };
        line(
            &fitting(&[all, number], usize::from(area.width)),
            area,
            style,
            buf,
        );
    }

    fn draw_large(&self, size: Size, style: Style, area: Rect, buf: &mut Buffer) {
        let Size { k, place, below } = size;
        let high = blocks::lines(k);
        let mut number = area;
        if let Some((what, name)) = &self.cylinder {
            let caption = self.cylinder_caption(k);
            number = match place {
                Place::Alone => {
                    line(&format!("{what} {name}"), area, style, buf);
                    moved(area, 0, 1)
                }
                Place::Beside | Place::Stacked => {
                    written(caption, &large(name), k, style, area, buf);
                    let right = self.cylinder_columns(k).unwrap_or(0) + gap(k);
                    match place {
                        Place::Beside => {
                            // From afar, `2` beside `115.3` must not be read as one number.
                            let bar = vec!["│".to_owned(); usize::from(high)];
                            let left = right.saturating_sub(gap(k).div_ceil(2));
                            let between = moved(area, left, 1);
                            below_each_other(&bar, between, style, buf);
                            moved(area, right, 0)
                        }
                        _ => moved(area, 0, high + 1),
                    }
                }
            };
        }
        let taken = written(&self.caption, &self.number, k, style, number, buf);
        if below {
            let below = Rect {
                x: area.x,
                width: area.width,
                ..moved(number, 0, high + 1)
            };
            line(&self.about.join(" · "), below, style, buf);
        } else {
            below_each_other(&self.about, moved(number, taken + 2, 1), style, buf);
        }
    }
}

/// As block letters have it.
fn large(name: &str) -> String {
    name.to_uppercase()
}

/// Columns between cylinder and number.
const fn gap(k: u16) -> u16 {
    2 + 2 * k
}

fn moved(area: Rect, right: u16, down: u16) -> Rect {
    let (right, down) = (right.min(area.width), down.min(area.height));
    Rect {
        x: area.x + right,
        y: area.y + down,
        width: area.width - right,
        height: area.height - down,
    }
}

/// A caption and block letters below it; gives the columns that the letters took.
fn written(caption: &str, text: &str, k: u16, style: Style, area: Rect, buf: &mut Buffer) -> u16 {
    line(caption, area, style, buf);
    blocks::draw(text, k, moved(area, 0, 1), style, buf)
}

/// `cylinder` and `2`, or `run` and `3`.
pub(super) fn cylinder(name: &str) -> (&'static str, String) {
    match name.strip_prefix(UNNAMED) {
        Some(number) => ("run", number.to_owned()),
        None => ("cylinder", name.to_owned()),
    }
}

/// The large number and what it is.
pub(super) fn number(scene: &Scene) -> (String, String) {
    let unit = scene.unit;
    match scene.number {
        Number::None => (unit.to_string(), "-".to_owned()),
        Number::Now(value) => (format!("{unit} now"), value.digits(unit)),
        Number::Needle(value) => (format!("{unit} needle"), value.digits(unit)),
        Number::Settled(value, expanded) => (
            format!("{unit} ± {} settled", expanded.digits(unit)),
            value.digits(unit),
        ),
        Number::Oil(cm3) => {
            let amount = oil::amount(cm3);
            let digits = amount.strip_suffix(" ml").unwrap_or(&amount);
            (format!("ml of oil: {}", oil::share(cm3)), digits.to_owned())
        }
    }
}

/// What is known about the run in hand, a line each.
pub(super) fn about(scene: &Scene) -> Vec<String> {
    let run = &scene.run;
    let mut lines = Vec::new();
    let Some(count) = run.count else {
        return lines;
    };
    lines.push(format!("{} {}", run.counted, count.made));
    if let Some((per_minute, of)) = run.cadence {
        lines.push(format!("{per_minute:.0} {of}"));
    }
    if matches!(scene.number, Number::Settled(..)) {
        return lines;
    }
    if let Some(last) = run.last {
        lines.push(format!("last top {}", last.digits(scene.unit)));
    }
    if count.heading - count.needle > count.tolerance {
        lines.push(format!("heading for {}", count.heading.digits(scene.unit)));
    }
    lines
}

/// The style of cylinder and number.
pub(super) fn style(scene: &Scene, theme: Theme) -> Style {
    match scene.view.tone {
        Tone::Stop => theme.banner(Tone::Stop),
        _ => STRONG,
    }
}
