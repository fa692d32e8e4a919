//! Why a command could not do its work: what, where, what to do; and the exit codes.

use crate::cli::out;
use anstyle::{AnsiColor, Style};
use std::fmt::Display;
use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

/// What every command gives: how it ended, or why it could not.
pub type Outcome = Result<Exit, Failure>;

/// How a command ended. The numbers are part of the interface and stay.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Exit {
    /// Done.
    Done = 0,
    /// Something outside failed: file, disk, radio.
    Failed = 1,
    /// The command line is wrong.
    Usage = 2,
    /// Done, but some of the data was damaged or lost on the way.
    Loss = 3,
    /// An input file is not what it should be.
    BadInput = 4,
    /// Nothing to judge: the recording gives no reading.
    NoReading = 5,
    /// Two things that should agree do not.
    Mismatch = 6,
    /// What could be compared agrees, but not everything could.
    InPart = 7,
    /// Interrupted by the user.
    Interrupted = 130,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit as u8)
    }
}

/// Why a command could not do its work.
#[derive(Debug)]
pub struct Failure {
    what: String,
    place: Option<String>,
    remedy: Option<String>,
    exit: Exit,
}

impl Failure {
    /// A failure of the given kind; `what` is a sentence without a full stop.
    pub fn new(exit: Exit, what: impl Display) -> Self {
        Self {
            what: what.to_string(),
            place: None,
            remedy: None,
            exit,
        }
    }
    /// A file that could not be read or written.
    pub fn file(path: &Path, doing: &str, error: &std::io::Error) -> Self {
        Self::new(Exit::Failed, format!("cannot {doing} this file: {error}")).at(path.display())
    }
    /// Says where: file, line, field, device.
    #[must_use]
    pub fn at(mut self, place: impl Display) -> Self {
        self.place = Some(place.to_string());
        self
    }
    /// Says what to do about it.
    #[must_use]
    pub fn remedy(mut self, remedy: impl Display) -> Self {
        self.remedy = Some(remedy.to_string());
        self
    }
    /// Prints it to standard error and gives the exit code.
    pub fn report(&self) -> ExitCode {
        if self.exit == Exit::Done {
            return self.exit.into();
        }
        let red = Style::new().bold().fg_color(Some(AnsiColor::Red.into()));
        let mut err = out::stderr();
        // Further lines are set in: none can pass for a line of its own.
        let set_in = |text: &str| text.replace('\n', "\n  ");
        // Nothing is left to tell the user with if standard error itself is gone.
        let _ = err.styled(red, "error");
        let _ = writeln!(err, ": {}", set_in(&self.what));
        if let Some(place) = &self.place {
            let _ = writeln!(err, "   where: {}", set_in(place));
        }
        if let Some(remedy) = &self.remedy {
            let _ = writeln!(err, "   do:    {}", set_in(remedy));
        }
        self.exit.into()
    }
}

/// For writing to standard output.
impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Self {
        // Standard output gone (`needlerest … | head`): the reader has enough, all is well.
        let exit = match error.kind() {
            std::io::ErrorKind::BrokenPipe => Exit::Done,
            _ => Exit::Failed,
        };
        Self::new(exit, error)
    }
}
