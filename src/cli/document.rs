//! Text files: read with bounded length, so that the wrong file costs no memory; saved whole or not
//! at all.

use crate::cli::{Exit, Failure};
use crate::engine::JobCard;
use crate::recording::limits::DOCUMENT;
use crate::report::LARGEST;
use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;

/// Reads a text file that a person wrote: a card, a protocol file, a recipe, rules, a key.
pub(super) fn text(path: &Path) -> Result<String, Failure> {
    read_text(path).map_err(|error| match error.kind() {
        io::ErrorKind::FileTooLarge | io::ErrorKind::InvalidData => {
            Failure::new(Exit::BadInput, error).at(path.display())
        }
        _ => Failure::file(path, "read", &error),
    })
}

/// The text of a job card for a test that is about to be made, if one is named; that it makes
/// sense and harms nobody is seen before a sensor is woken for nothing.
pub(super) fn card(path: Option<&Path>) -> Result<Option<String>, Failure> {
    let Some(path) = path else { return Ok(None) };
    let text = text(path)?;
    JobCard::for_cranking(&text).map_err(|error| {
        Failure::new(Exit::BadInput, error)
            .at(path.display())
            .remedy("correct what is named; needlerest guide card explains every entry")
    })?;
    Ok(Some(text))
}

/// As [`text`], for those who tell failures apart.
pub(super) fn read_text(path: &Path) -> io::Result<String> {
    let bytes = read(path, DOCUMENT)?;
    let not_text = |_| io::Error::new(io::ErrorKind::InvalidData, "it is not text in UTF-8");
    String::from_utf8(bytes).map_err(not_text)
}

/// Writes a small file of the user's own, whole or not at all; makes its folder.
pub(super) fn save(path: &Path, text: &str) -> Result<(), Failure> {
    let failed = |error: io::Error| Failure::file(path, "write", &error);
    let folder = path.parent().unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder).map_err(failed)?;
    let mut file = tempfile::NamedTempFile::new_in(folder).map_err(failed)?;
    file.write_all(text.as_bytes()).map_err(failed)?;
    file.as_file().sync_all().map_err(failed)?;
    file.persist(path).map_err(|error| failed(error.error))?;
    Ok(())
}

/// Reads a file of a finished report.
pub(super) fn of_report(path: &Path) -> Result<Vec<u8>, Failure> {
    read(path, LARGEST).map_err(|error| Failure::file(path, "read", &error))
}

fn read(path: &Path, most: usize) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(path)?
        .take(most as u64 + 1)
        .read_to_end(&mut bytes)?;
    if bytes.len() > most {
        return Err(io::Error::new(
            io::ErrorKind::FileTooLarge,
            format!("it is longer than the {most} bytes that such a file may have"),
        ));
    }
    Ok(bytes)
}
