//! Writes a recording so that nothing that was received is lost.

use super::background::BackgroundSink;
use super::file_sink::FileSink;
use super::format::{Event, Header, Packet, Record, Seal, TimedEvent};
use super::limits::{self, TooLong};
use super::line;
use super::reader::{OpenError, open};
use super::sink::Sink;
use sha2::{Digest, Sha256};
use std::io;
use std::path::Path;
use std::time::Duration;

/// How old a record may grow, in microseconds, before it should be brought to the disk. Together
/// with the time that a slow disk takes, and a caller that looks every 50 ms, at most the last
/// 250 ms are at stake.
pub const SYNC_AFTER_US: u64 = 150_000;

/// Why a recording cannot be written.
#[derive(Debug, thiserror::Error)]
pub enum WriteError {
    /// The disk refused. The file holds what was recorded before.
    #[error("cannot write the recording: {0}")]
    Io(#[source] io::Error),
    /// There is a file of that name, and it is not overwritten.
    #[error("there is a file of that name already; it is left as it is")]
    Exists,
    /// A write failed before: the file may end in half a line, so nothing more is appended.
    #[error("writing failed before; nothing more is appended to this recording")]
    Poisoned,
    /// Something is longer than a recording takes. Nothing of it was written.
    #[error(transparent)]
    TooLong(#[from] TooLong),
    /// The recording to be resumed cannot be read.
    #[error(transparent)]
    Resume(#[from] OpenError),
}

/// Writes a recording, line by line. Each line goes to the sink at once, so that the end of this
/// process loses nothing; [`Writer::sync`], called when [`Writer::needs_sync`] says so, bounds
/// what the end of the machine can lose.
#[derive(Debug)]
pub struct Writer<S> {
    sink: S,
    /// Number of the line to come.
    next: u64,
    digest: Sha256,
    /// Time of the oldest record that is not on the disk yet.
    unsynced_since: Option<u64>,
    /// A record is waiting that should not: an event, which comes once and is hard to repeat.
    urgent: bool,
    poisoned: bool,
    line: Vec<u8>,
}

impl Writer<FileSink> {
    /// Begins a recording in a new file.
    ///
    /// # Errors
    /// When the file exists already or cannot be written.
    pub fn create(path: &Path, header: &Header) -> Result<Self, WriteError> {
        limits::check(&Record::Header(Box::new(header.clone())))?;
        let sink = FileSink::create(path).map_err(|error| match error.kind() {
            io::ErrorKind::AlreadyExists => WriteError::Exists,
            _ => WriteError::Io(error),
        })?;
        Self::begin(sink, header).inspect_err(|_| {
            // The failure itself is what the caller must know; a file without a whole header is of
            // no use.
            let _ = std::fs::remove_file(path);
        })
    }

    /// Leaves the writing to threads of its own from here on: a slow disk holds up nobody, an
    /// error comes with a later call, and [`Writer::behind`] says how long the disk has been silent.
    ///
    /// # Errors
    /// When the system has no more file handles or threads.
    pub fn into_background(self) -> Result<Writer<BackgroundSink>, WriteError> {
        let Self {
            sink,
            next,
            digest,
            unsynced_since,
            urgent,
            poisoned,
            line,
        } = self;
        Ok(Writer {
            sink: sink.into_background().map_err(WriteError::Io)?,
            next,
            digest,
            unsynced_since,
            urgent,
            poisoned,
            line,
        })
    }

    /// Goes on with a recording that was stopped, sealed or not. A last line that breaks off is
    /// ended, and stays in the file as a damaged line. Gives the time of its last record in
    /// microseconds: host times count on from there.
    ///
    /// # Errors
    /// When the file cannot be read as a recording, or cannot be written.
    pub fn resume(path: &Path, at: &str) -> Result<(Self, u64), WriteError> {
        let sink = FileSink::append_to(path).map_err(WriteError::Io)?;
        let mut reader = open(path)?;
        let mut last_us = 0;
        for line in reader.by_ref() {
            match line.map_err(WriteError::Io)?.outcome {
                Ok(Record::Packet(packet)) => last_us = last_us.max(packet.t_us),
                Ok(Record::Event(event)) => last_us = last_us.max(event.t_us),
                _ => {}
            }
        }
        let (next, digest, torn) = reader.into_state();
        let mut writer = Self::at(sink, next, digest);
        if torn {
            writer.append_bytes(b"\n")?;
        }
        let at = at.to_owned();
        writer.event(&TimedEvent {
            t_us: last_us,
            event: Event::Resumed { at },
        })?;
        writer.sync()?;
        Ok((writer, last_us))
    }
}

impl<S: Sink> Writer<S> {
    /// Begins a recording: writes the header and brings it to the disk.
    ///
    /// # Errors
    /// When the sink refuses, or something in the header is too long.
    pub fn begin(sink: S, header: &Header) -> Result<Self, WriteError> {
        let mut writer = Self::at(sink, 1, Sha256::new());
        writer.append(&Record::Header(Box::new(header.clone())))?;
        writer.sync()?;
        Ok(writer)
    }

    fn at(sink: S, next: u64, digest: Sha256) -> Self {
        Self {
            sink,
            next,
            digest,
            unsynced_since: None,
            urgent: false,
            poisoned: false,
            line: Vec::with_capacity(1024),
        }
    }

    /// Appends a packet.
    ///
    /// # Errors
    /// When the sink refuses now or did before, or something is too long.
    pub fn packet(&mut self, packet: &Packet) -> Result<(), WriteError> {
        self.append(&Record::Packet(packet.clone()))?;
        self.unsynced_since.get_or_insert(packet.t_us);
        Ok(())
    }

    /// Appends an event.
    ///
    /// # Errors
    /// When the sink refuses now or did before, or something is too long.
    pub fn event(&mut self, event: &TimedEvent) -> Result<(), WriteError> {
        self.append(&Record::Event(event.clone()))?;
        self.unsynced_since.get_or_insert(event.t_us);
        self.urgent = true;
        Ok(())
    }

    /// Whether [`Self::sync`] should be called now; `now_us` is on the clock of the records.
    pub fn needs_sync(&self, now_us: u64) -> bool {
        let old = |since: u64| now_us.saturating_sub(since) >= SYNC_AFTER_US;
        self.urgent || self.unsynced_since.is_some_and(old)
    }

    /// Brings everything appended so far to the disk.
    ///
    /// # Errors
    /// When the sink refuses now or did before.
    pub fn sync(&mut self) -> Result<(), WriteError> {
        if self.poisoned {
            return Err(WriteError::Poisoned);
        }
        // What a failed sync left on the disk cannot be known, and a second one may lie.
        self.sink.sync().map_err(|error| self.poison(error))?;
        self.unsynced_since = None;
        self.urgent = false;
        Ok(())
    }

    /// For how long the disk has not answered.
    pub fn behind(&self) -> Duration {
        self.sink.behind()
    }

    /// Ends the recording with its seal. Gives back the sink and the seal.
    ///
    /// # Errors
    /// When the sink refuses now or did before.
    pub fn seal(mut self) -> Result<(S, Seal), WriteError> {
        let seal = Seal {
            sha256: hex::encode(self.digest.clone().finalize()),
            lines: self.next - 1,
        };
        self.append(&Record::Seal(seal.clone()))?;
        self.sync()?;
        self.sink.settle().map_err(|error| self.poison(error))?;
        Ok((self.sink, seal))
    }

    fn append(&mut self, record: &Record) -> Result<(), WriteError> {
        if self.poisoned {
            return Err(WriteError::Poisoned);
        }
        limits::check(record)?;
        let mut line = std::mem::take(&mut self.line);
        line.clear();
        let written = line::write(record, self.next, &mut line)
            .map_err(|error| WriteError::Io(error.into()))
            .and_then(|()| self.append_bytes(&line));
        self.line = line;
        written?;
        self.next += 1;
        Ok(())
    }

    fn append_bytes(&mut self, bytes: &[u8]) -> Result<(), WriteError> {
        self.sink
            .append(bytes)
            .map_err(|error| self.poison(error))?;
        self.digest.update(bytes);
        Ok(())
    }

    /// After a failed write the file may end in half a line. Whatever came after would be glued
    /// to it.
    fn poison(&mut self, error: io::Error) -> WriteError {
        self.poisoned = true;
        WriteError::Io(error)
    }
}
