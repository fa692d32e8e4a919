//! Where everything goes. Headline, cylinder and number become as large as they fit together; the
//! build-ups have the rows that are left.

use super::blocks;
use super::figures::{Figures, Size};
use super::scene::{Number, Scene};
use super::text::{columns, rows, wrapped};
use crate::session::{Stage, Tone};
use ratatui::layout::Rect;

/// Most lines of the next thing to do, and of the note below it.
const MOST_NEXT: usize = 5;
const MOST_NOTE: usize = 3;
/// A screen that is lower has a needle only while it climbs, and no rows kept for build-ups.
const LOW: u16 = 22;
/// What a scale is worth: the first step from plain letters most.
const WORTH: [u16; 7] = [0, 16, 24, 28, 30, 32, 34];

/// Where everything goes.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    pub(super) title: Rect,
    pub(super) headline: Rect,
    /// Scale of the headline and its lines; in plain letters where there is no scale.
    pub(super) scale: Option<u16>,
    pub(super) words: Vec<String>,
    pub(super) next: Rect,
    pub(super) next_lines: Vec<String>,
    pub(super) note: Rect,
    pub(super) note_lines: Vec<String>,
    pub(super) figures: Rect,
    pub(super) size: Option<Size>,
    pub(super) needle: Rect,
    pub(super) build_ups: Rect,
    pub(super) keys: Rect,
    pub(super) key_rows: Vec<Vec<(String, String)>>,
}

impl Layout {
    pub(super) fn of(scene: &Scene, figures: &Figures, area: Rect) -> Self {
        let (width, height) = (area.width, area.height);
        let next_lines = wrapped(&scene.view.next, width, MOST_NEXT);
        let low = height < LOW;
        let note_lines = note_lines(scene, width, if low { MOST_NOTE - 1 } else { MOST_NOTE });
        let notes = rows(&note_lines).max(u16::from(!low));
        let key_rows = key_rows(scene, width, if height < 14 { 1 } else { 2 });
        let needle = needle_rows(scene, height);
        let keys = u16::try_from(key_rows.len()).unwrap_or(1).max(1);
        let fixed = 1 + rows(&next_lines) + notes + needle + keys;
        let letters = height.saturating_sub(fixed);
        let letters = letters.saturating_sub(build_up_rows(scene, height, letters));
        let large = Large::fitting(scene, figures, width, letters);
        let mut y = area.y;
        let mut take = |rows: u16| {
            let height = rows.min(area.bottom().saturating_sub(y));
            let rect = Rect { y, height, ..area };
            y += height;
            rect
        };
        let title = take(1);
        let headline = take(large.headline_rows);
        let next = take(rows(&next_lines));
        let note = take(notes);
        let figures = take(large.figures_rows);
        let needle = take(needle);
        let left = area.bottom().saturating_sub(needle.bottom());
        let build_ups = take(left.saturating_sub(keys));
        Self {
            title,
            headline,
            scale: large.headline,
            words: large.words,
            next,
            next_lines,
            note,
            note_lines,
            figures,
            size: large.size,
            needle,
            build_ups,
            keys: take(keys),
            key_rows,
        }
    }

    /// From the headline to the needle.
    pub(super) fn upper(&self) -> Rect {
        Rect {
            height: self.needle.y.saturating_sub(self.headline.y),
            ..self.headline
        }
    }
}

/// The large letters of headline and figures.
struct Large {
    headline: Option<u16>,
    words: Vec<String>,
    headline_rows: u16,
    size: Option<Size>,
    figures_rows: u16,
}

impl Large {
    /// The largest that fit. STOP weighs more than the number, the number more than any other
    /// headline.
    fn fitting(scene: &Scene, figures: &Figures, width: u16, room: u16) -> Self {
        let stop = scene.view.tone == Tone::Stop;
        let headlines = headlines(scene.view.headline, width.saturating_sub(4));
        let mut sizes: Vec<(Option<Size>, u16)> = vec![(None, 1)];
        let larger = figures.sizes().into_iter();
        sizes.extend(larger.map(|(size, rows)| (Some(size), rows)));
        let mut best: Option<(u16, Self)> = None;
        for (words, k) in &headlines {
            let lines = u16::try_from(words.len()).unwrap_or(1);
            let headline_rows = lines * k.map_or(1, blocks::lines);
            let k = k.unwrap_or(0);
            for (size, figures_rows) in &sizes {
                let number = size.map_or(0, |size| figures_worth(size, scene.number));
                let worth = if stop {
                    3 * worth(k) + 2 * number
                } else {
                    4 * worth(k) + 5 * number
                };
                let fits = headline_rows + figures_rows <= room.max(2);
                let better = best.as_ref().is_none_or(|(before, _)| worth > *before);
                if fits && better {
                    let large = Self {
                        headline: (k > 0).then_some(k),
                        words: words.clone(),
                        headline_rows,
                        size: *size,
                        figures_rows: *figures_rows,
                    };
                    best = Some((worth, large));
                }
            }
        }
        best.map_or_else(|| Self::plain(scene), |(_, large)| large)
    }

    /// Nothing fits.
    fn plain(scene: &Scene) -> Self {
        Self {
            headline: None,
            words: vec![scene.view.headline.to_owned()],
            headline_rows: 1,
            size: None,
            figures_rows: 1,
        }
    }
}

fn worth(scale: u16) -> u16 {
    let worth = WORTH.get(usize::from(scale)).or(WORTH.last());
    worth.copied().unwrap_or(0)
}

/// A number whose cylinder is not as large is worth little: less than a headline in plain letters
/// costs.
fn figures_worth(size: Size, number: Number) -> u16 {
    let whole = worth(size.scale());
    if size.is_whole() || matches!(number, Number::Oil(_)) {
        whole
    } else {
        whole / 5
    }
}

/// The headline in plain letters and at every scale, in one line; in the smallest block letters in two,
/// where one is too long: larger ones would touch.
fn headlines(text: &str, width: u16) -> Vec<(Vec<String>, Option<u16>)> {
    let one = vec![text.to_owned()];
    let two = text
        .rsplit_once(' ')
        .map(|(first, last)| vec![first.to_owned(), last.to_owned()]);
    let mut all = vec![(one.clone(), None)];
    for k in 1..=blocks::LARGEST {
        let fits = |words: &Vec<String>| words.iter().all(|w| blocks::columns(w, k) <= width);
        if fits(&one) {
            all.push((one.clone(), Some(k)));
        } else if let Some(two) = two.clone().filter(fits).filter(|_| k == 1) {
            all.push((two, Some(k)));
        }
    }
    all
}

/// What is wrong, or else the note, in lines.
fn note_lines(scene: &Scene, width: u16, most: usize) -> Vec<String> {
    match (&scene.trouble, &scene.view.note) {
        (Some(trouble), _) => {
            let lines = wrapped(trouble, width, most);
            let marked = |(at, line): (usize, String)| match at {
                0 => format!("! {}", line.trim_start()),
                _ => line,
            };
            lines.into_iter().enumerate().map(marked).collect()
        }
        (None, Some(note)) => wrapped(note, width, most),
        (None, None) => Vec::new(),
    }
}

fn needle_rows(scene: &Scene, height: u16) -> u16 {
    let climbs = matches!(scene.view.stage, Stage::Climbing | Stage::Zero);
    match height {
        0..LOW if !climbs => 0,
        0..LOW => 2,
        LOW..=40 => 3,
        _ => 4,
    }
}

/// Rows that are kept for the build-ups.
fn build_up_rows(scene: &Scene, height: u16, letters: u16) -> u16 {
    let none = scene.others.is_empty() && scene.run.shown.is_empty();
    let stop = scene.view.tone == Tone::Stop && height < 40;
    if none || stop || height < LOW {
        0
    } else {
        (letters / 4).clamp(4, 16)
    }
}

/// The keys in so many rows; those before the last two are left out where there is no room.
fn key_rows(scene: &Scene, width: u16, most: usize) -> Vec<Vec<(String, String)>> {
    let mut keys = scene.keys.clone();
    loop {
        let rows = packed(&keys, width);
        if rows.len() <= most || keys.len() <= 2 {
            return rows.into_iter().take(most).collect();
        }
        keys.remove(keys.len() - 3);
    }
}

fn packed(keys: &[(&str, &str)], width: u16) -> Vec<Vec<(String, String)>> {
    let mut rows: Vec<Vec<(String, String)>> = Vec::new();
    let mut left = 0;
    for (key, word) in keys {
        let (key, word) = (format!(" {key} "), format!("{word} "));
        let wide = columns(&key) + columns(&word);
        if wide > left || rows.is_empty() {
            rows.push(Vec::new());
            left = width;
        }
        if let Some(row) = rows.last_mut() {
            row.push((key, word));
            left = left.saturating_sub(wide);
        }
    }
    rows
}
