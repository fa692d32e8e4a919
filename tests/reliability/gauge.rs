//! If recording fails, the gauge goes on: seen in a real terminal, on a disk that is full.

use super::disks::Mounted;
use super::support::tool;
use std::process::Command;
use std::time::Duration;

/// Looks at a screen so often before giving up, a tenth of a second apart.
const LOOKS: usize = 600;

/// A terminal of its own.
struct Terminal(String);

impl Terminal {
    fn run(command: &str) -> Option<Self> {
        let name = format!("gauge{}", std::process::id());
        let args = [
            "-L",
            &name,
            "new-session",
            "-d",
            "-x",
            "110",
            "-y",
            "34",
            command,
        ];
        tool("tmux", &args).then_some(Self(name))
    }

    fn press(&self, key: &str) {
        tool("tmux", &["-L", &self.0, "send-keys", key]);
    }

    fn screen(&self) -> String {
        let shown = Command::new("tmux")
            .args(["-L", &self.0, "capture-pane", "-p"])
            .output();
        shown
            .map(|shown| String::from_utf8_lossy(&shown.stdout).into_owned())
            .unwrap_or_default()
    }

    /// Waits until the screen shows these words, pressing a key now and then.
    fn until(&self, words: &str, key: Option<&str>) -> String {
        for look in 0..LOOKS {
            let screen = self.screen();
            if screen.contains(words) {
                return screen;
            }
            if let Some(key) = key.filter(|_| look % 10 == 9) {
                self.press(key);
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        panic!("never shows {words:?}:\n{}", self.screen());
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        tool("tmux", &["-L", &self.0, "kill-server"]);
    }
}

#[test]
fn the_gauge_goes_on_when_the_disk_is_full() {
    let Some(disk) = Mounted::tmpfs(256, "") else {
        super::skip::cannot("mounting needs root");
        return;
    };
    let file = disk.path().join("session.jsonl");
    let program = env!("CARGO_BIN_EXE_needlerest");
    let command = format!("{program} practice {} --cautions-read", file.display());
    let Some(terminal) = Terminal::run(&command) else {
        super::skip::for_want_of("tmux");
        return;
    };
    terminal.until("linked", None);
    assert!(std::fs::write(disk.path().join("filler"), vec![1; 1024 * 1024]).is_err());
    terminal.until("Nothing is kept from here on", None);
    // Strokes are still found, and shown beside the warning.
    let screen = terminal.until("stroke", Some("Space"));
    assert!(screen.contains("Nothing is kept from here on"), "{screen}");
}
