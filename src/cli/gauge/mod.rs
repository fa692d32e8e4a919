//! The live gauge: the screen as a pure function of a [`Scene`].
//!
//! From the top: title; headline in block letters; the next thing to do; why; the number in block
//! letters with what is known beside it; the needle over its scale with the service range; the
//! build-ups side by side; keys. What does not fit is left out from the bottom up.

mod blocks;
mod build_ups;
mod font;
mod needle;
mod pages;
mod scene;
mod theme;

pub use pages::{cautions_page, help_page};
pub use scene::{Asked, BuildUpScene, Mark, Number, RunScene, Scene, SensorScene};
pub use theme::Theme;
use theme::{BAR, STRONG};

use crate::session::Tone;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;
use unicode_width::UnicodeWidthStr;

/// Draws the whole gauge into `area`.
pub fn draw(scene: &Scene, theme: Theme, area: Rect, buf: &mut Buffer) {
    let layout = Layout::of(scene, area);
    title(scene, layout.title, buf);
    let stop = scene.view.tone == Tone::Stop;
    if stop {
        // The whole upper part changes: it must be seen from the corner of an eye.
        buf.set_style(layout.upper(), theme.banner(Tone::Stop));
    }
    headline(scene, theme, layout.headline, buf);
    next_line(scene, theme, &layout, buf);
    number(scene, theme, layout.number, buf);
    needle::draw(scene, layout.needle, buf);
    build_ups::draw(scene, layout.build_ups, buf);
    keys(scene, layout.keys, buf);
}

/// Where everything goes.
#[derive(Clone, Copy, Debug)]
struct Layout {
    title: Rect,
    headline: Rect,
    next: Rect,
    note: Rect,
    number: Rect,
    needle: Rect,
    build_ups: Rect,
    keys: Rect,
}

impl Layout {
    fn of(scene: &Scene, area: Rect) -> Self {
        let width = area.width;
        let free = area.height.saturating_sub(4);
        let letters = |text: &str, width: u16, share: u16| {
            let most = (free * share / 20).max(1);
            blocks::scale(text, width, most).map_or(1, blocks::lines)
        };
        let stop = scene.view.tone == Tone::Stop;
        let share = if stop { 7 } else { 5 };
        let headline = letters(scene.view.headline, width.saturating_sub(4), share);
        let number = letters("000.0", width * 3 / 4, 7);
        let mut y = area.y;
        let bottom = area.bottom();
        let mut take = |height: u16| {
            let height = height.min(bottom.saturating_sub(y));
            let rect = Rect { y, height, ..area };
            y += height;
            rect
        };
        let title = take(1);
        let headline = take(headline);
        let next = take(rows(&wrapped(&scene.view.next, width, MOST_NEXT)));
        let note = take(rows(&note_lines(scene, width)).max(1));
        let number = take(number);
        let needle = take(if area.height > 40 { 4 } else { 3 });
        let left = bottom.saturating_sub(y);
        let mut rest = |height: u16| {
            let height = height.min(bottom.saturating_sub(y));
            let rect = Rect { y, height, ..area };
            y += height;
            rect
        };
        let build_ups = rest(left.saturating_sub(1));
        let keys = rest(1);
        Self {
            title,
            headline,
            next,
            note,
            number,
            needle,
            build_ups,
            keys,
        }
    }

    /// From the headline to the needle.
    fn upper(&self) -> Rect {
        Rect {
            height: self.needle.y.saturating_sub(self.headline.y),
            ..self.headline
        }
    }
}

/// Writes a line, cut off where the area ends.
fn line(text: &str, area: Rect, style: Style, buf: &mut Buffer) {
    if area.height > 0 {
        buf.set_stringn(area.x, area.y, text, usize::from(area.width), style);
    }
}

fn right(text: &str, area: Rect, style: Style, buf: &mut Buffer) {
    let width = u16::try_from(text.width())
        .unwrap_or(u16::MAX)
        .min(area.width);
    let x = area.right() - width;
    line(text, Rect { x, width, ..area }, style, buf);
}

fn title(scene: &Scene, area: Rect, buf: &mut Buffer) {
    if area.height == 0 {
        return;
    }
    buf.set_style(area, BAR);
    let (at, of) = scene.view.count;
    let run = match &scene.view.run {
        Some((cylinder, condition)) => {
            format!(
                " · {} {} · run {at} of {of}",
                run_name(cylinder),
                condition.label()
            )
        }
        None => String::new(),
    };
    let left = format!(" {}{run}", scene.engine);
    line(&left, area, BAR, buf);
    let room = usize::from(area.width).saturating_sub(left.width());
    right(&sensor_words(&scene.sensor, room), area, BAR, buf);
}

/// Sensor, link, losses, battery: as much as there is room for, the link in any case.
fn sensor_words(sensor: &SensorScene, room: usize) -> String {
    let symbol = if sensor.link_good { '●' } else { '▲' };
    let link = format!("{symbol} {}", sensor.link);
    let lost = (sensor.lost > 0).then(|| format!("{} lost", sensor.lost));
    let low = if sensor.battery_low { "▲ " } else { "" };
    let battery = sensor
        .battery
        .map(|charge| format!("{low}battery {charge:.0} %"));
    let all = [
        Some(sensor.name.clone()),
        Some(link.clone()),
        lost,
        battery.clone(),
    ];
    let join = |words: &[Option<String>]| {
        let words: Vec<&str> = words.iter().flatten().map(String::as_str).collect();
        format!("  {} ", words.join(" · "))
    };
    let attempts = [
        join(&all),
        join(all.get(1..).unwrap_or(&[])),
        join(&[Some(link), battery]),
    ];
    let fits = attempts.iter().find(|words| words.width() <= room);
    fits.or(attempts.last()).cloned().unwrap_or_default()
}

/// `cylinder 2`, or `run 3` as it is.
fn run_name(cylinder: &str) -> String {
    if cylinder.starts_with("run ") {
        cylinder.to_owned()
    } else {
        format!("cylinder {cylinder}")
    }
}

fn headline(scene: &Scene, theme: Theme, area: Rect, buf: &mut Buffer) {
    let style = theme.banner(scene.view.tone);
    buf.set_style(area, style);
    let text = scene.view.headline;
    let inner = Rect {
        x: area.x + 2.min(area.width),
        width: area.width.saturating_sub(4),
        ..area
    };
    match blocks::scale(text, inner.width, area.height) {
        Some(k) => {
            blocks::draw(text, k, inner, style, buf);
        }
        None => line(text, inner, style, buf),
    }
    // Shape beside colour: what kind of news it is, for those who cannot read that far.
    let mark = match scene.view.tone {
        Tone::Stop => "■ ■ ■",
        Tone::Trouble => "! ! !",
        Tone::Go => "▶ ▶ ▶",
        Tone::Calm => return,
    };
    let taken =
        blocks::scale(text, inner.width, area.height).map_or(0, |k| blocks::columns(text, k));
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
    let next = wrapped(&scene.view.next, layout.next.width, MOST_NEXT);
    below_each_other(&next, layout.next, style, buf);
    let style = match &scene.trouble {
        Some(_) => theme.trouble(),
        None if stop => style,
        None => Style::new(),
    };
    below_each_other(
        &note_lines(scene, layout.note.width),
        layout.note,
        style,
        buf,
    );
}

/// Most lines of the next thing to do, and of the note below it.
const MOST_NEXT: usize = 3;
const MOST_NOTE: usize = 3;

/// What is wrong, or else the note, in lines.
fn note_lines(scene: &Scene, width: u16) -> Vec<String> {
    match (&scene.trouble, &scene.view.note) {
        (Some(trouble), _) => vec![format!("! {trouble}")],
        (None, Some(note)) => wrapped(note, width, MOST_NOTE),
        (None, None) => Vec::new(),
    }
}

/// A sentence in lines of this width, indented; the last one may be cut off.
fn wrapped(text: &str, width: u16, most: usize) -> Vec<String> {
    let room = usize::from(width).saturating_sub(2).max(1);
    let mut lines = textwrap::wrap(text, room);
    lines.truncate(most);
    lines.iter().map(|line| format!("  {line}")).collect()
}

fn rows(lines: &[String]) -> u16 {
    u16::try_from(lines.len()).unwrap_or(u16::MAX)
}

fn below_each_other(lines: &[String], area: Rect, style: Style, buf: &mut Buffer) {
    for (row, text) in (area.y..area.bottom()).zip(lines) {
        let at = Rect {
            y: row,
            height: 1,
            ..area
        };
        line(text, at, style, buf);
    }
}

fn number(scene: &Scene, theme: Theme, area: Rect, buf: &mut Buffer) {
    let style = match scene.view.tone {
        Tone::Stop => theme.banner(Tone::Stop),
        _ => STRONG,
    };
    let (value, what) = match scene.number {
        Number::None => (None, String::new()),
        Number::Now(value) => (Some(value), "now".to_owned()),
        Number::Needle(value) => (Some(value), "needle".to_owned()),
        Number::Settled(value, expanded) => (
            Some(value),
            format!("± {} settled", expanded.digits(scene.unit)),
        ),
    };
    let text = value.map_or_else(|| "-".to_owned(), |v| v.digits(scene.unit));
    let inner = Rect {
        x: area.x + 2.min(area.width),
        width: area.width.saturating_sub(2),
        ..area
    };
    let letters_width = inner.width.saturating_sub(20);
    let taken = if let Some(k) = blocks::scale(&text, letters_width, area.height) {
        blocks::draw(&text, k, inner, style, buf)
    } else {
        line(&text, inner, style, buf);
        u16::try_from(text.width()).unwrap_or(0)
    };
    let shift = (taken + 2).min(inner.width);
    let side = Rect {
        x: inner.x + shift,
        width: inner.width - shift,
        ..inner
    };
    let mut lines = vec![format!("{}  {what}", scene.unit)];
    lines.extend(beside(scene));
    for (row, text) in lines.iter().enumerate() {
        let row = u16::try_from(row).unwrap_or(u16::MAX);
        if row < side.height {
            let at = Rect {
                y: side.y + row,
                height: 1,
                ..side
            };
            line(text, at, style, buf);
        }
    }
}

/// What is known about the run in hand, a line each.
fn beside(scene: &Scene) -> Vec<String> {
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

fn keys(scene: &Scene, area: Rect, buf: &mut Buffer) {
    if area.height == 0 {
        return;
    }
    if let Some((what, text)) = &scene.typing {
        let typed = format!(" {what}: {text}▏ (Enter keeps it, Esc drops it)");
        line(&typed, area, BAR, buf);
        return;
    }
    let mut x = area.x;
    for (key, word) in &scene.keys {
        let key = format!(" {key} ");
        let word = format!("{word} ");
        let width = u16::try_from(key.width() + word.width()).unwrap_or(u16::MAX);
        if x.saturating_add(width) > area.right() {
            return;
        }
        let here = Rect {
            x,
            width: area.right() - x,
            ..area
        };
        line(&key, here, BAR, buf);
        let shift = u16::try_from(key.width()).unwrap_or(0);
        let here = Rect {
            x: x + shift,
            width: here.width - shift,
            ..here
        };
        line(&word, here, Style::new(), buf);
        x += width;
    }
}
