//! The needle: a bar over a scale, with the service range marked.

use super::scene::{Number, Scene};
use super::text::{line, right};
use super::theme::{QUIET, STRONG};
use crate::units::Pressure;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::{Modifier, Style};

/// Eighths of a column.
const EIGHTHS: [&str; 8] = ["", "▏", "▎", "▍", "▌", "▋", "▊", "▉"];

pub(super) fn draw(scene: &Scene, area: Rect, buf: &mut Buffer) {
    let inner = Rect {
        x: area.x + 2.min(area.width),
        width: area.width.saturating_sub(4),
        ..area
    };
    if inner.width < 20 || inner.height == 0 {
        return;
    }
    let scale = Scale {
        full: scene.full_scale,
        columns: inner.width,
    };
    let bars = area.height.saturating_sub(2).max(1);
    for row in 0..bars {
        bar(
            scene,
            scale,
            Rect {
                y: inner.y + row,
                height: 1,
                ..inner
            },
            buf,
        );
    }
    let below = |row: u16| Rect {
        y: inner.y + row,
        height: u16::from(row < inner.height),
        ..inner
    };
    ticks(scene, scale, below(bars), buf);
    service_range(scene, scale, below(bars + 1), buf);
}

/// Share of the full scale, 0 to 1.
pub(super) fn share(pressure: Pressure, full: Pressure) -> f64 {
    let share = pressure / full;
    if share.is_finite() {
        share.clamp(0.0, 1.0)
    } else {
        0.0
    }
}

/// Said where the card asks for nothing.
pub(super) const NO_LIMIT: &str = "no service limit given";

/// Where a pressure is along the needle.
#[derive(Clone, Copy)]
struct Scale {
    full: Pressure,
    columns: u16,
}

impl Scale {
    fn share(self, pressure: Pressure) -> f64 {
        share(pressure, self.full)
    }

    fn column(self, pressure: Pressure) -> u16 {
        let last = self.columns.saturating_sub(1);
        (self.share(pressure) * f64::from(last) + 0.5) as u16
    }
}

fn bar(scene: &Scene, scale: Scale, area: Rect, buf: &mut Buffer) {
    let now = scene.now.unwrap_or(Pressure::ZERO);
    let eighths = (scale.share(now) * f64::from(scale.columns) * 8.0) as usize;
    let mut text = "█".repeat(eighths / 8);
    text.push_str(EIGHTHS.get(eighths % 8).copied().unwrap_or(""));
    line(&"─".repeat(usize::from(scale.columns)), area, QUIET, buf);
    line(&text, area, STRONG.remove_modifier(Modifier::DIM), buf);
    if let Some(target) = target(scene) {
        let x = area.x + scale.column(target);
        buf.set_stringn(x, area.y, "┃", 1, STRONG);
    }
}

/// The settled reading, or where the needle is heading.
pub(super) fn target(scene: &Scene) -> Option<Pressure> {
    match scene.number {
        Number::Settled(value, _) => Some(value),
        _ => scene.run.count.map(|count| count.heading),
    }
}

/// About so many numbers at even steps, up to full scale.
pub(super) fn marks(scene: &Scene, about: f64) -> Vec<(Pressure, String)> {
    let full = scene.full_scale.to(scene.unit);
    let step = even_step(full / about);
    let decimals = usize::from(step < 1.0);
    (0..100)
        .map(|n| f64::from(n) * step)
        .take_while(|value| *value <= full)
        .map(|value| {
            let at = Pressure::new(value, scene.unit);
            (at, format!("{value:.decimals$}"))
        })
        .collect()
}

fn ticks(scene: &Scene, scale: Scale, area: Rect, buf: &mut Buffer) {
    let about = (f64::from(area.width) / 12.0).clamp(1.0, 10.0);
    for (value, text) in marks(scene, about) {
        let at = scale.column(value);
        let width = u16::try_from(text.len()).unwrap_or(0);
        let shift = at.min(area.width.saturating_sub(width));
        let here = Rect {
            x: area.x + shift,
            width: area.width - shift,
            ..area
        };
        line(&text, here, Style::new(), buf);
    }
}

/// 1, 2 or 5 times a power of ten, not below `least`.
fn even_step(least: f64) -> f64 {
    let mut power = 1e-3;
    while power < 1e9 {
        for step in [1.0, 2.0, 5.0] {
            if step * power >= least {
                return step * power;
            }
        }
        power *= 10.0;
    }
    power
}

fn service_range(scene: &Scene, scale: Scale, area: Rect, buf: &mut Buffer) {
    let asked = scene.asked;
    let at = |p: Pressure| area.x + scale.column(p);
    if let (Some(low), Some(high)) = (asked.low, asked.high) {
        let (from, to) = (at(low), at(high));
        let room = usize::from(to.saturating_sub(from).saturating_sub(1));
        let word = if room >= 8 { " normal " } else { "" };
        let side = room.saturating_sub(word.len()) / 2;
        let rest = room.saturating_sub(side + word.len());
        let text = format!("├{}{word}{}┤", "─".repeat(side), "─".repeat(rest));
        let here = Rect {
            x: from,
            width: area.right().saturating_sub(from),
            ..area
        };
        line(&text, here, STRONG, buf);
    } else if let Some(low) = asked.low.or(asked.high) {
        let here = Rect {
            x: at(low),
            width: area.right().saturating_sub(at(low)),
            ..area
        };
        line("├ normal", here, STRONG, buf);
    }
    if let Some(limit) = asked.limit {
        let text = "limit ▲";
        let end = at(limit) + 1;
        let here = Rect {
            width: end.saturating_sub(area.x),
            ..area
        };
        right(text, here, STRONG, buf);
    }
    if asked == super::Asked::default() {
        line(NO_LIMIT, area, QUIET, buf);
    }
}
