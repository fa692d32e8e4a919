//! Reads text files of bounded length, so that the wrong file costs no memory.

use crate::cli::{Exit, Failure};
use crate::recording::limits::DOCUMENT;
use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// Longest file of a finished report in bytes.
const REPORT: usize = 256 * 1024 * 1024;

/// Reads a text file that a person wrote: a card, a protocol file, a recipe, rules, a key.
pub(super) fn text(path: &Path) -> Result<String, Failure> {
    read_text(path).map_err(|error| match error.kind() {
        io::ErrorKind::FileTooLarge | io::ErrorKind::InvalidData => {
            Failure::new(Exit::BadInput, error).at(path.display())
        }
        _ => Failure::file(path, "read", &error),
    })
}

/// As [`text`], for those who tell failures apart.
pub(super) fn read_text(path: &Path) -> io::Result<String> {
    let bytes = read(path, DOCUMENT)?;
    let not_text = |_| io::Error::new(io::ErrorKind::InvalidData, "it is not text in UTF-8");
    String::from_utf8(bytes).map_err(not_text)
}

/// Reads a file of a finished report.
pub(super) fn of_report(path: &Path) -> Result<Vec<u8>, Failure> {
    read(path, REPORT).map_err(|error| Failure::file(path, "read", &error))
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
