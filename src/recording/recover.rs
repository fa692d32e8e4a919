//! A clean copy of a damaged recording.

use super::format::{Event, Record, TimedEvent};
use super::found::SealState;
use super::reader::{OpenError, Reader, open};
use super::writer::{WriteError, Writer};
use serde::Serialize;
use std::io::{self, BufRead};
use std::path::Path;

/// What was recovered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Recovered {
    /// Records kept, the header included.
    pub kept: u64,
    /// Lines that could not be used.
    pub damaged_lines: u64,
    /// Lines that are missing.
    pub missing_lines: u64,
}

/// Why nothing was recovered.
#[derive(Debug, thiserror::Error)]
pub enum RecoverError {
    /// The damaged recording cannot be read at all.
    #[error(transparent)]
    Open(#[from] OpenError),
    /// The damaged recording could not be read to its end.
    #[error("cannot read the damaged recording: {0}")]
    Read(#[source] io::Error),
    /// The copy cannot be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// The copy was read again, and is not what it should be.
    #[error("the copy was read again and is not what was written: {0}")]
    Unfaithful(String),
}

/// Writes every undamaged record of `damaged` to a new, sealed recording at `copy`, notes in it
/// what was left out, and reads it again to make sure. The damaged one is not touched.
///
/// # Errors
/// When there is nothing to recover from, `copy` exists, or cannot be written; a copy that is
/// not complete is removed again.
pub fn recover(damaged: impl BufRead, copy: &Path) -> Result<Recovered, RecoverError> {
    let reader = Reader::new(damaged)?;
    let writer = Writer::create(copy, reader.header())?;
    let done = copy_over(reader, writer).and_then(|recovered| {
        verify(copy, &recovered)?;
        Ok(recovered)
    });
    if done.is_err() {
        // The failure itself is what the caller must know; the rest of the copy is of no use.
        let _ = std::fs::remove_file(copy);
    }
    done
}

fn copy_over<R: BufRead, S: super::Sink>(
    mut reader: Reader<R>,
    mut writer: Writer<S>,
) -> Result<Recovered, RecoverError> {
    let mut recovered = Recovered {
        kept: 1,
        damaged_lines: 0,
        missing_lines: 0,
    };
    let mut last_us = 0;
    for line in reader.by_ref() {
        let line = line.map_err(RecoverError::Read)?;
        match line.outcome {
            Ok(Record::Packet(packet)) => {
                last_us = last_us.max(packet.t_us);
                writer.packet(&packet)?;
            }
            Ok(Record::Event(event)) => {
                last_us = last_us.max(event.t_us);
                writer.event(&event)?;
            }
            // The copy gets its own.
            Ok(Record::Header(_) | Record::Seal(_)) => continue,
            Err(super::Damage::Missing { lines }) => {
                recovered.missing_lines += lines;
                continue;
            }
            Err(_) => {
                recovered.damaged_lines += line.count;
                continue;
            }
        }
        recovered.kept += 1;
    }
    writer.event(&TimedEvent {
        t_us: last_us,
        event: Event::Note {
            text: note(&recovered, reader.seal()),
        },
    })?;
    writer.seal()?;
    Ok(recovered)
}

fn note(recovered: &Recovered, seal: &SealState) -> String {
    let seal = match seal {
        SealState::Missing => "it was not sealed",
        SealState::Holds { .. } => "its seal held",
        SealState::Broken { .. } => "its seal did not hold",
    };
    format!(
        "Recovered copy: {} damaged and {} missing lines of the original are left out; {seal}.",
        recovered.damaged_lines, recovered.missing_lines
    )
}

/// Reads the copy again: every line sound, as many as were kept (and the note), the seal good.
fn verify(copy: &Path, recovered: &Recovered) -> Result<(), RecoverError> {
    let unfaithful = |why: String| RecoverError::Unfaithful(why);
    let mut reader = open(copy)?;
    let mut records = 1;
    for line in reader.by_ref() {
        let line = line.map_err(|error| unfaithful(error.to_string()))?;
        line.outcome
            .map_err(|damage| unfaithful(format!("line {}: {damage}", line.number)))?;
        records += 1;
    }
    if !matches!(reader.seal(), SealState::Holds { .. }) {
        return Err(unfaithful("its seal does not hold".to_owned()));
    }
    // The note and the seal were added.
    if records != recovered.kept + 2 {
        return Err(unfaithful(format!(
            "it holds {records} lines, not {}",
            recovered.kept + 2
        )));
    }
    Ok(())
}
