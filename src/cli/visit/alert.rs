//! What must not be missed, beyond the screen: a command of the user's that speaks or makes a
//! sound.

use crate::session::Announcement;
use std::process::{Command, Stdio};

/// The user's command for announcements.
#[derive(Clone, Debug, Default)]
pub(super) struct Alert {
    command: Option<String>,
}

impl Alert {
    pub(super) fn new(command: Option<String>) -> Self {
        Self { command }
    }

    /// Runs the user's command for what is announced at once, if there is one, and does not wait for
    /// it. Gives what went wrong.
    pub(super) fn tell(&self, announced: &[Announcement]) -> Option<String> {
        let command = self.command.as_deref()?;
        let first = announced.first()?;
        let event = announced.iter().find(|a| a.is_loud()).unwrap_or(first);
        let words: Vec<&str> = announced.iter().map(Announcement::spoken).collect();
        let started = shell(command)
            .env("NEEDLEREST_EVENT", word(event))
            .env("NEEDLEREST_TEXT", words.join(" "))
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn();
        match started {
            Ok(mut child) => {
                // Waited for, so that it does not stay behind as a zombie.
                std::thread::spawn(move || child.wait());
                None
            }
            Err(error) => Some(format!("the announcing command does not start: {error}")),
        }
    }
}

#[cfg(not(windows))]
fn shell(command: &str) -> Command {
    let mut shell = Command::new("sh");
    shell.arg("-c").arg(command);
    shell
}

/// `cmd` takes the rest of its line as it stands, and only the outermost quotes away.
#[cfg(windows)]
fn shell(command: &str) -> Command {
    use std::os::windows::process::CommandExt;
    let mut shell = Command::new("cmd");
    shell.raw_arg(format!("/S /C \"{command}\""));
    shell
}

/// For a script.
pub(super) fn word(announcement: &Announcement) -> &'static str {
    match announcement {
        Announcement::Settled { .. } => "settled",
        Announcement::Withdrawn => "withdrawn",
        Announcement::LinkLost => "link-lost",
        Announcement::Again => "again",
        Announcement::StillCranking => "still-cranking",
        Announcement::AirOff => "air-off",
        Announcement::Finished => "finished",
        Announcement::Next(_) => "next",
    }
}
