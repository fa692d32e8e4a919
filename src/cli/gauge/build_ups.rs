//! Build-ups side by side: a column a stroke, all on one scale.

use super::scene::{BuildUpScene, Mark, Number, Scene};
use super::text::{fitting, line};
use super::theme::{QUIET, STRONG};
use crate::session::place;
use crate::units::{Pressure, PressureUnit};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use ratatui::style::Style;

const EIGHTHS: [&str; 9] = [" ", "▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"];

/// Columns of a panel: room for `cylinder 12 warm`; up to twice that where there is room.
const PANEL: u16 = 19;

pub(super) fn draw(scene: &Scene, area: Rect, buf: &mut Buffer) {
    if area.height < 3 || area.width < PANEL {
        return;
    }
    let runs = side_by_side(scene);
    let room = area.width.saturating_sub(2);
    let fit = usize::from(room / PANEL).max(1);
    let shown = u16::try_from(runs.len().clamp(3, fit.max(3))).unwrap_or(3);
    let panel_width = (room / shown).clamp(PANEL, 2 * PANEL);
    let hidden = runs.len().saturating_sub(fit);
    let top = top(&runs);
    for (at, run) in runs.iter().skip(hidden).enumerate() {
        let left = 2 + u16::try_from(at).unwrap_or(0) * panel_width;
        let panel = Rect {
            x: area.x + left,
            width: panel_width - 1,
            ..area
        };
        draw_run(run, top, scene.unit, panel, buf);
    }
}

/// The runs made, and the one in hand.
pub(super) fn side_by_side(scene: &Scene) -> Vec<BuildUpScene> {
    let mut runs = scene.others.clone();
    runs.extend(in_hand(scene));
    runs
}

/// The highest level shown: they are all on its scale.
pub(super) fn top(runs: &[BuildUpScene]) -> Pressure {
    runs.iter()
        .flat_map(|r| r.shown.iter().copied().chain(r.reading))
        .fold(Pressure::from_kpa(1.0), Pressure::max)
}

/// What became of a run.
pub(super) const fn symbol(mark: Mark) -> &'static str {
    match mark {
        Mark::Making => "▶",
        Mark::Good => "✓",
        Mark::Wrong => "!",
        Mark::Void => "×",
    }
}

/// What was read.
pub(super) fn value(run: &BuildUpScene, unit: PressureUnit) -> String {
    match (run.reading, run.state) {
        (_, Mark::Void) => "does not count".to_owned(),
        (Some(value), Mark::Wrong) => format!("{} in doubt", value.show(unit)),
        (Some(value), _) => value.show(unit),
        (None, Mark::Making) => String::new(),
        (None, _) => "no reading".to_owned(),
    }
}

fn in_hand(scene: &Scene) -> Option<BuildUpScene> {
    let (cylinder, condition) = scene.view.run.clone()?;
    Some(BuildUpScene {
        cylinder,
        condition,
        shown: scene.run.shown.clone(),
        reading: match scene.number {
            Number::Settled(value, _) => Some(value),
            _ => None,
        },
        state: Mark::Making,
    })
}

fn draw_run(run: &BuildUpScene, top: Pressure, unit: PressureUnit, area: Rect, buf: &mut Buffer) {
    let symbol = symbol(run.state);
    let style = match run.state {
        Mark::Making => STRONG,
        Mark::Void => QUIET,
        Mark::Good | Mark::Wrong => Style::new(),
    };
    let condition = run.condition.label();
    let names = [
        format!("{symbol} {} {condition}", place(&run.cylinder)),
        format!("{symbol} {} {condition}", run.cylinder),
    ];
    let name = fitting(&names, usize::from(area.width));
    line(&name, Rect { height: 1, ..area }, style, buf);
    let value = value(run, unit);
    let last = Rect {
        y: area.bottom() - 1,
        height: 1,
        ..area
    };
    line(&value, last, style, buf);
    let bars = Rect {
        y: area.y + 1,
        height: area.height - 2,
        ..area
    };
    columns(&run.shown, top, bars, style, buf);
}

/// One column a stroke; up to four where there is room. The latest strokes where there is not.
fn columns(shown: &[Pressure], top: Pressure, area: Rect, style: Style, buf: &mut Buffer) {
    let room = usize::from(area.width);
    let wide = (room / shown.len().max(1)).clamp(1, 4);
    let bar = wide.saturating_sub(1).max(1);
    let hidden = shown.len().saturating_sub(room / wide);
    let steps = f64::from(area.height) * 8.0;
    for (at, level) in shown.iter().skip(hidden).enumerate() {
        let share = (*level / top).clamp(0.0, 1.0);
        let eighths = (share * steps + 0.5) as usize;
        for row in 0..area.height {
            let below = usize::from(area.height - 1 - row) * 8;
            let part = eighths.saturating_sub(below).min(8);
            let symbol = EIGHTHS.get(part).copied().unwrap_or(" ");
            let x = area.x + u16::try_from(at * wide).unwrap_or(0);
            buf.set_stringn(x, area.y + row, symbol.repeat(bar), bar, style);
        }
    }
}
