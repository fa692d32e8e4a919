//! The terminal: taken over on opening, given back however the program ends.

use super::hands::Hands;
use crate::cli::gauge::{PhonePage, Scene, Theme, cautions_page, draw, help_page, phone_page};
use crate::cli::out;
use crate::transport::ble::hide_known_race;
use ratatui::Terminal;
use ratatui::backend::CrosstermBackend;
use ratatui::buffer::Buffer;
use ratatui::crossterm::event::{self, Event};
use ratatui::crossterm::terminal::{
    EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use ratatui::crossterm::{cursor, execute};
use std::borrow::Cow;
use std::io::{self, Stdout, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

/// From one look at the keyboard's thread's end to the next.
const LOOK_EVERY: Duration = Duration::from_millis(100);

/// The terminal while the gauge has it.
pub(super) struct Screen {
    terminal: Terminal<CrosstermBackend<Stdout>>,
    theme: Theme,
    bell: bool,
    over: Arc<AtomicBool>,
}

impl Screen {
    /// Takes the terminal over. Its keys and changes of size come from the receiver.
    pub(super) fn open(bell: bool) -> io::Result<(Self, UnboundedReceiver<Event>)> {
        give_back_on_panic();
        enable_raw_mode()?;
        execute!(io::stdout(), EnterAlternateScreen, cursor::Hide).inspect_err(|_| give_back())?;
        // Anyone's wish not to see colours (no-color.org): set and not empty.
        let plain = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        let over = Arc::new(AtomicBool::new(false));
        let screen = Self {
            terminal: Terminal::new(CrosstermBackend::new(io::stdout()))?,
            theme: if plain { Theme::Plain } else { Theme::Colour },
            bell,
            over: over.clone(),
        };
        let (send, receive) = unbounded_channel();
        std::thread::spawn(move || {
            while !over.load(Ordering::Relaxed) {
                match event::poll(LOOK_EVERY) {
                    Ok(false) => continue,
                    Ok(true) => {}
                    Err(_) => return,
                }
                let Ok(event) = event::read() else { return };
                if send.send(event).is_err() {
                    return;
                }
            }
        });
        Ok((screen, receive))
    }

    /// Draws what there is to see; `phone` is where it is shared, while that is shown.
    pub(super) fn show(
        &mut self,
        scene: &Scene,
        hands: &mut Hands,
        phone: Option<&PhonePage>,
    ) -> io::Result<()> {
        let theme = self.theme;
        self.terminal.draw(|frame| {
            let area = frame.area();
            let buf = frame.buffer_mut();
            if let Some(phone) = phone {
                phone_page(phone, theme, area, buf);
            } else if hands.help {
                hands.help_last = help_page(hands.all_keys(), hands.help_line, area, buf);
            } else if scene.view.stage.shows_cautions() {
                let cautions = &scene.cautions;
                hands.caution_last = cautions_page(cautions, hands.caution_line, area, buf);
            } else {
                draw(scene, theme, area, buf);
            }
            make_visible(buf);
        })?;
        Ok(())
    }

    /// The terminal's bell.
    pub(super) fn ring(&mut self) -> io::Result<()> {
        if self.bell {
            let mut out = io::stdout();
            out.write_all(b"\x07")?;
            out.flush()?;
        }
        Ok(())
    }
}

/// The gate of [`out`] for what is drawn: names are drawn too.
fn make_visible(buf: &mut Buffer) {
    for cell in &mut buf.content {
        if let Cow::Owned(visible) = out::made_visible(cell.symbol()) {
            cell.set_symbol(&visible);
        }
    }
}

impl Drop for Screen {
    fn drop(&mut self) {
        self.over.store(true, Ordering::Relaxed);
        give_back();
    }
}

/// As it was found. Nobody is left to tell if that fails.
fn give_back() {
    let _ = execute!(io::stdout(), LeaveAlternateScreen, cursor::Show);
    let _ = disable_raw_mode();
}

/// A panic's message must be readable, and the shell after it usable.
fn give_back_on_panic() {
    static DONE: std::sync::Once = std::sync::Once::new();
    DONE.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            give_back();
            before(info);
        }));
        // Outermost again: a panic that ends nothing must not end the gauge.
        hide_known_race();
    });
}

#[cfg(all(test, target_os = "linux"))]
mod tests {
    use super::*;
    use std::process::Command;

    /// What runs in the terminal below.
    #[test]
    #[ignore = "takes the terminal over and panics: run by the test below"]
    fn panics_while_the_gauge_is_shown() {
        let _screen = Screen::open(false).expect("a terminal");
        panic!("as if the gauge were wrong");
    }

    #[test]
    fn a_panic_gives_the_terminal_back_as_it_was() {
        let test = "cli::visit::screen::tests::panics_while_the_gauge_is_shown";
        let own = std::env::current_exe().expect("this test");
        let folder = tempfile::tempdir().expect("a folder");
        let (before, after) = (folder.path().join("before"), folder.path().join("after"));
        let inside = format!(
            "stty -a >'{}'; '{}' --exact {test} --ignored --nocapture; stty -a >'{}'",
            before.display(),
            own.display(),
            after.display()
        );
        let ran = Command::new("script")
            .args(["-q", "-c", &inside, "/dev/null"])
            .output()
            .expect("script, of util-linux");
        let shown = String::from_utf8_lossy(&ran.stdout);
        let place = |what: &str| {
            shown
                .find(what)
                .unwrap_or_else(|| panic!("{what:?}: {shown}"))
        };
        let (taken, given) = (place("\x1b[?1049h"), place("\x1b[?1049l"));
        assert!(taken < given && place("\x1b[?25h") > taken);
        assert!(given < place("as if the gauge were wrong"), "{shown}");
        let read = |path: &std::path::Path| std::fs::read_to_string(path).expect("stty's word");
        assert!(read(&before).contains("speed"));
        assert_eq!(read(&before), read(&after));
    }
}
