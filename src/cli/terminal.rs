//! Standard output and progress.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;

/// A progress bar on standard error for `length` steps; silent when that is not a terminal, or one
/// that knows no such thing.
pub(super) fn progress(length: u64, doing: &'static str) -> ProgressBar {
    let target = if can_redraw() {
        ProgressDrawTarget::stderr()
    } else {
        ProgressDrawTarget::hidden()
    };
    let bar = ProgressBar::with_draw_target(Some(length), target);
    // The template is a constant; should it ever be wrong, the default style serves.
    if let Ok(style) = ProgressStyle::with_template("{msg} [{bar:30}] {pos}/{len} {eta}") {
        bar.set_style(style.progress_chars("=> "));
    }
    bar.with_message(doing)
}

/// Whether standard error is a terminal on which a line can be drawn anew.
pub(super) fn can_redraw() -> bool {
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    std::io::stderr().is_terminal() && !dumb
}

/// Columns to lay text out for: the terminal's, or 100 when there is none.
pub(super) fn width() -> usize {
    terminal_size::terminal_size()
        .map_or(100, |(columns, _)| usize::from(columns.0))
        .clamp(40, 200)
}
