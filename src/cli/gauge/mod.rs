//! The live gauge: the screen as a pure function of a [`Scene`].
//!
//! From the top: title; headline in block letters; the next thing to do; why; cylinder and number in
//! block letters with what is known beside them; the needle over its scale with the service range;
//! the build-ups side by side; keys. What does not fit is left out from the bottom up.

mod blocks;
mod build_ups;
mod figures;
mod font;
mod layout;
mod needle;
mod pages;
mod phone;
mod picture;
mod scene;
mod text;
mod theme;

pub use pages::{cautions_page, help_page};
pub use phone::{PhonePage, phone_page};
pub use picture::Picture;
pub use scene::{Asked, BuildUpScene, Mark, Number, RunScene, Scene, SensorScene, place_keys};
pub use theme::Theme;

use crate::session::{Tone, place};
use figures::Figures;
use layout::Layout;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use text::{below_each_other, columns, line, right, shortened};
use theme::{BAR, STRONG};
use unicode_width::UnicodeWidthStr;

/// Draws the whole gauge into `area`.
pub fn draw(scene: &Scene, theme: Theme, area: Rect, buf: &mut Buffer) {
    let figures = Figures::of(scene, area.width);
    let layout = Layout::of(scene, &figures, area);
    title(scene, layout.title, buf);
    if scene.view.tone == Tone::Stop {
        // The whole upper part changes: it must be seen from the corner of an eye.
        buf.set_style(layout.upper(), theme.banner(Tone::Stop));
    }
    headline(scene, theme, &layout, buf);
    next_line(scene, theme, &layout, buf);
    let style = figures::style(scene, theme);
    figures.draw(layout.size, style, layout.figures, buf);
    needle::draw(scene, layout.needle, buf);
    build_ups::draw(scene, layout.build_ups, buf);
    keys(scene, &layout, buf);
}

fn title(scene: &Scene, area: Rect, buf: &mut Buffer) {
    if area.height == 0 {
        return;
    }
    buf.set_style(area, BAR);
    let room = usize::from(area.width);
    let sensor = sensor_words(&scene.sensor);
    let fits = titles(scene)
        .into_iter()
        .flat_map(|left| sensor.iter().map(move |right| (left.clone(), right)))
        .find(|(left, right)| left.width() + right.width() <= room);
    let (left, sensor) = match fits {
        Some((left, sensor)) => (left, sensor.as_str()),
        None => (titles(scene).pop().unwrap_or_default(), ""),
    };
    line(&left, area, BAR, buf);
    right(sensor, area, BAR, buf);
}

/// Engine, run and how many there are: the longest first.
fn titles(scene: &Scene) -> Vec<String> {
    let engine = &scene.engine;
    let (at, of) = scene.view.count;
    match &scene.view.run {
        Some((cylinder, condition)) => {
            let run = format!("{} {}", place(cylinder), condition.label());
            vec![
                format!(" {engine} · {run} · run {at} of {of}"),
                format!(" {engine} · {run}"),
                format!(" {run} · run {at} of {of}"),
                format!(" {run}"),
            ]
        }
        None => vec![format!(" {engine}"), format!(" {}", shortened(engine, 20))],
    }
}

/// Sensor, link, losses, battery: the longest first, the link in any case.
fn sensor_words(sensor: &SensorScene) -> [String; 4] {
    let symbol = if sensor.link_good { '●' } else { '▲' };
    let link = format!("{symbol} {}", sensor.link);
    let lost = (sensor.lost > 0).then(|| format!("{} lost", sensor.lost));
    let low = if sensor.battery_low { "▲ " } else { "" };
    let battery = sensor
        .battery
        .map(|charge| format!("{low}battery {charge:.0} %"));
    let join = |words: &[Option<String>]| {
        let words: Vec<&str> = words.iter().flatten().map(String::as_str).collect();
        format!("  {} ", words.join(" · "))
    };
    let link = Some(link);
    [
        join(&[
            Some(sensor.name.clone()),
            link.clone(),
            lost.clone(),
            battery.clone(),
        ]),
        join(&[link.clone(), lost, battery.clone()]),
        join(&[link.clone(), battery]),
        join(&[link]),
    ]
}

/// `cylinder 2`, or `run 3` as it is.
fn headline(scene: &Scene, theme: Theme, layout: &Layout, buf: &mut Buffer) {
    let area = layout.headline;
    let style = theme.banner(scene.view.tone);
    buf.set_style(area, style);
    let inner = Rect {
        x: area.x + 2.min(area.width),
        width: area.width.saturating_sub(4),
        ..area
    };
    let Some(k) = layout.scale else {
        return line(scene.view.headline, inner, style, buf);
    };
    let mut taken = 0;
    for (at, words) in (0..).zip(&layout.words) {
        let down = (at * blocks::lines(k)).min(inner.height);
        let here = Rect {
            y: inner.y + down,
            height: inner.height - down,
            ..inner
        };
        taken = taken.max(blocks::draw(words, k, here, style, buf));
    }
    // Shape beside colour: what kind of news it is, for those who cannot read that far.
    let mark = match scene.view.tone {
        Tone::Stop => "■ ■ ■",
        Tone::Trouble => "! ! !",
        Tone::Go => "▶ ▶ ▶",
        Tone::Calm => return,
    };
    if taken + 8 < inner.width {
        for row in 0..area.height {
            let at = Rect {
                y: area.y + row,
                height: 1,
                ..inner
            };
            right(mark, at, style, buf);
        }
    }
}

fn next_line(scene: &Scene, theme: Theme, layout: &Layout, buf: &mut Buffer) {
    let stop = scene.view.tone == Tone::Stop;
    let style = if stop {
        theme.banner(Tone::Stop)
    } else {
        STRONG
    };
    below_each_other(&layout.next_lines, layout.next, style, buf);
    let style = match &scene.trouble {
        Some(_) => theme.trouble(),
        None if stop => style,
        None => Style::new(),
    };
    below_each_other(&layout.note_lines, layout.note, style, buf);
}

fn keys(scene: &Scene, layout: &Layout, buf: &mut Buffer) {
    let area = layout.keys;
    if area.height == 0 {
        return;
    }
    if let Some((what, text)) = &scene.typing {
        let room = usize::from(area.width);
        let typed = format!(" {what}: {text}▏");
        let with_help = format!("{typed} (Enter keeps it, Esc drops it)");
        // The end of what is typed matters more than its beginning.
        let over = typed.chars().count().saturating_sub(room);
        let end: String = typed.chars().skip(over).collect();
        let shown = if with_help.width() <= room {
            with_help
        } else {
            end
        };
        return line(&shown, area, BAR, buf);
    }
    for (y, row) in (area.y..area.bottom()).zip(&layout.key_rows) {
        let mut x = area.x;
        for (key, word) in row {
            for (text, style) in [(key, BAR), (word, Style::new())] {
                let left = area.right().saturating_sub(x);
                buf.set_stringn(x, y, text, usize::from(left), style);
                x = x.saturating_add(columns(text)).min(area.right());
            }
        }
    }
}
