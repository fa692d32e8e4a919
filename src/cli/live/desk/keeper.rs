//! Keeps what arrives in the recording, if there is one. Once that fails the user is told, and
//! everything else goes on.

use crate::cli::live::told::Told;
use crate::recording::{BackgroundSink, Packet, Seal, StallWatch, TimedEvent, WriteError, Writer};

/// Where it goes.
enum To {
    File(Box<Writer<BackgroundSink>>),
    Nowhere,
    /// Nowhere any more: it went wrong; and in words.
    Failed(WriteError, String),
}

/// Keeps what arrives in the recording, if there is one.
pub(in crate::cli) struct Keeper {
    to: To,
    stall: StallWatch,
}

impl Keeper {
    /// Into a recording.
    pub(in crate::cli) fn file(writer: Writer<BackgroundSink>) -> Self {
        Self::to(To::File(Box::new(writer)))
    }

    /// Nowhere: a recording is watched.
    pub(in crate::cli) fn nowhere() -> Self {
        Self::to(To::Nowhere)
    }

    fn to(to: To) -> Self {
        Self {
            to,
            stall: StallWatch::default(),
        }
    }

    pub(super) fn packet(&mut self, packet: &Packet) -> Option<Told> {
        self.keep(|writer| writer.packet(packet))
    }

    pub(super) fn event(&mut self, event: &TimedEvent) -> Option<Told> {
        self.keep(|writer| writer.event(event))
    }

    /// Brings what is due to the disk, and looks whether the disk still answers.
    pub(super) fn sync(&mut self, now_us: u64) -> Vec<Told> {
        let To::File(writer) = &self.to else {
            return Vec::new();
        };
        let (due, behind) = (writer.needs_sync(now_us), writer.behind());
        let words = self.stall.look(behind);
        let stall = words.map(|words| Told::Warning(words.to_owned()));
        let failure = if due { self.keep(Writer::sync) } else { None };
        stall.into_iter().chain(failure).collect()
    }

    /// What is wrong with keeping now.
    pub(super) fn trouble(&self) -> Option<&str> {
        match &self.to {
            To::Failed(_, words) => Some(words),
            To::File(_) if self.stall.is_stalled() => Some("The disk does not answer."),
            To::File(_) | To::Nowhere => None,
        }
    }

    /// Why nothing is kept any more, if so.
    pub(super) fn failure(&self) -> Option<&WriteError> {
        match &self.to {
            To::Failed(error, _) => Some(error),
            To::File(_) | To::Nowhere => None,
        }
    }

    /// Seals the recording and lets go of it; none if there is none.
    pub(super) fn seal(&mut self) -> Result<Option<Seal>, &WriteError> {
        match std::mem::replace(&mut self.to, To::Nowhere) {
            To::File(writer) => match writer.seal() {
                Ok((_, seal)) => return Ok(Some(seal)),
                Err(error) => {
                    self.fail(error);
                }
            },
            before => self.to = before,
        }
        match self.failure() {
            Some(error) => Err(error),
            None => Ok(None),
        }
    }

    fn keep(
        &mut self,
        write: impl FnOnce(&mut Writer<BackgroundSink>) -> Result<(), WriteError>,
    ) -> Option<Told> {
        let To::File(writer) = &mut self.to else {
            return None;
        };
        let error = write(writer).err()?;
        Some(self.fail(error))
    }

    fn fail(&mut self, error: WriteError) -> Told {
        let why = error.to_string();
        self.to = To::Failed(error, format!("Nothing is kept from here on: {why}"));
        Told::Warning(format!("nothing is kept from here on: {why}"))
    }
}
