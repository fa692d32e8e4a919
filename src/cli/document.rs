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
            Failure::new(Exit::BadInput, error)
                .at(path.display())
                .remedy("give a text file; `needlerest card FILE` writes a job card by asking")
        }
        _ => {
            Failure::file(path, "read", &error).remedy("check the name and the rights of the file")
        }
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
    let no_text = |why: String| io::Error::new(io::ErrorKind::InvalidData, why);
    if let Some(what) = no_text_but(&bytes) {
        return Err(no_text(format!("it is {what}, not a text file")));
    }
    decode(bytes).ok_or_else(|| no_text("it is not text in UTF-8".to_owned()))
}

/// What kind of file begins like this, of those that are taken for a text by mistake.
fn no_text_but(bytes: &[u8]) -> Option<&'static str> {
    let kinds: [(&[u8], &'static str); 8] = [
        (b"\x89PNG", "a picture (PNG)"),
        (b"\xff\xd8\xff", "a picture (JPEG)"),
        (b"GIF8", "a picture (GIF)"),
        (b"BM", "a picture (BMP)"),
        (b"II*\0", "a picture (TIFF)"),
        (b"MM\0*", "a picture (TIFF)"),
        (b"%PDF-", "a PDF"),
        (b"PK\x03\x04", "a ZIP archive or an office document"),
    ];
    // Two letters are too few to go by where the rest may be text.
    let binary = bytes
        .iter()
        .take(512)
        .any(|byte| *byte == 0 || *byte >= 0x80);
    let begins = |(begin, _): &&(&[u8], _)| bytes.starts_with(begin) && (binary || begin.len() > 2);
    let at = |range: std::ops::Range<usize>| bytes.get(range);
    match kinds.iter().find(begins) {
        Some((_, what)) => Some(what),
        None if at(4..8) == Some(b"ftyp") => Some("a picture or film (HEIC, AVIF or MP4)"),
        None if at(8..12) == Some(b"WEBP") => Some("a picture (WebP)"),
        None => None,
    }
}

/// UTF-8, or UTF-16 that says so with its first two bytes, as `>` writes it in Windows PowerShell.
fn decode(bytes: Vec<u8>) -> Option<String> {
    let units = |of: fn([u8; 2]) -> u16| {
        let pairs = bytes[2..].chunks_exact(2);
        let whole = pairs.remainder().is_empty();
        let units: Vec<u16> = pairs.map(|pair| of([pair[0], pair[1]])).collect();
        String::from_utf16(&units).ok().filter(|_| whole)
    };
    match bytes.get(..2) {
        Some([0xFF, 0xFE]) => units(u16::from_le_bytes),
        Some([0xFE, 0xFF]) => units(u16::from_be_bytes),
        _ => String::from_utf8(bytes).ok(),
    }
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

#[cfg(test)]
mod tests {
    use super::no_text_but;

    /// First bytes: PNG (W3C), JPEG (ITU T.81, SOI and a marker), ISO/IEC 14496-12 `ftyp`.
    #[test]
    fn a_picture_is_known_by_its_first_bytes() {
        assert_eq!(no_text_but(b"\x89PNG\r\n\x1a\n"), Some("a picture (PNG)"));
        assert_eq!(no_text_but(b"\xff\xd8\xff\xe0\0"), Some("a picture (JPEG)"));
        let heic = no_text_but(b"\0\0\0\x18ftypheic");
        assert_eq!(heic, Some("a picture or film (HEIC, AVIF or MP4)"));
        assert_eq!(no_text_but(b"BMW = 1\nformat"), None);
        assert_eq!(no_text_but(b"format = \"needlerest-card\""), None);
    }
}
