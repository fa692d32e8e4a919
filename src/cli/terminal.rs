//! Standard output and progress.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;

/// A progress bar on standard error for `length` steps; silent when that is not a terminal.
pub(super) fn progress(length: u64, doing: &'static str) -> ProgressBar {
    let target = if std::io::stderr().is_terminal() {
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

/// Columns to lay text out for: the terminal's, or 100 when there is none.
pub(super) fn width() -> usize {
    terminal_size::terminal_size()
        .map_or(100, |(columns, _)| usize::from(columns.0))
        .clamp(40, 200)
}

/// Whether to colour text for standard output: a terminal, and `NO_COLOR` not set.
pub(super) fn colour() -> bool {
    anstream::AutoStream::choice(&std::io::stdout()) != anstream::ColorChoice::Never
}
