//! The terminal while recording: one line that changes, and lines that stay. On standard error,
//! so that standard output holds only results.

use super::desk::Now;
use super::told::Told;
use crate::cli::out;
use crate::cli::terminal::can_redraw;
use crate::report::words;
use anstyle::{AnsiColor, Style};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::Write;

/// The terminal while recording.
pub(in crate::cli) struct Screen {
    line: Option<ProgressBar>,
}

impl Screen {
    pub(in crate::cli) fn new() -> Self {
        let line = can_redraw().then(|| {
            let line = ProgressBar::with_draw_target(None, ProgressDrawTarget::stderr_with_hz(10));
            // The template is a constant; should it ever be wrong, the default style serves.
            match ProgressStyle::with_template("{elapsed_precise} {msg}") {
                Ok(style) => line.with_style(style),
                Err(_) => line,
            }
        });
        Self { line }
    }

    /// Whether there is a terminal that shows what the sensor tells.
    pub(in crate::cli) fn is_gauge(&self) -> bool {
        self.line.is_some()
    }

    /// A line that stays.
    pub(in crate::cli) fn say(&self, told: &Told) {
        let (word, colour, text) = match told {
            Told::Note(text) => ("note", AnsiColor::Cyan, text),
            Told::Warning(text) => ("warning", AnsiColor::Yellow, text),
        };
        let style = Style::new().fg_color(Some(colour.into()));
        let write = || {
            // A closed terminal is no reason to stop recording.
            let mut err = out::stderr();
            let _ = err.styled(style, word);
            let _ = writeln!(err, ": {}", words::clean(text));
        };
        self.aside(write);
    }

    /// Writes something while the line that changes is out of the way.
    pub(in crate::cli) fn aside<R>(&self, write: impl FnOnce() -> R) -> R {
        match &self.line {
            Some(line) => line.suspend(write),
            None => write(),
        }
    }

    /// The line that changes.
    pub(in crate::cli) fn show(&self, now: &Now) {
        if let Some(line) = &self.line {
            line.set_message(text(now));
            line.tick();
        }
    }

    pub(in crate::cli) fn clear(&self) {
        if let Some(line) = &self.line {
            line.finish_and_clear();
        }
    }
}

fn text(now: &Now) -> String {
    let link = &now.link;
    let mut parts = vec![match now.pressure {
        Some(pressure) => format!("{:7.1} kPa", pressure.kpa()),
        None => "waiting for the sensor".to_owned(),
    }];
    parts.push(words::many(link.packets, "packet"));
    parts.extend(link.lost.map(|lost| format!("{lost} lost")));
    let milli = |us: u64| us as f64 * 1e-3;
    parts.extend(
        link.spacing_us
            .map(|s| format!("apart {:.0} ms (most {:.0})", milli(s.p50), milli(s.max))),
    );
    parts.extend(
        link.latency_us
            .map(|s| format!("late {:.1} ms (99 %)", milli(s.p99))),
    );
    parts.extend(link.rssi_dbm.map(|dbm| format!("{dbm} dBm")));
    parts.extend(now.battery.map(|percent| format!("battery {percent} %")));
    parts.push("Ctrl-C ends".to_owned());
    parts.join(" · ")
}
