//! Puts finished outputs in place: all or nothing, and never over something that is not ours.

use super::{FORMAT, Output};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Every name that a report may write; what an older report left behind is cleared away by it.
/// By the first, a report's folder is known.
pub const NAMES: [&str; 10] = [
    "findings.json",
    "index.html",
    "build-up.svg",
    "build-up.png",
    "strokes.csv",
    "runs.csv",
    "samples.csv",
    "strokes.parquet",
    "samples.parquet",
    "report.pdf",
];

/// The same for an overview.
const OVERVIEW: [&str; 3] = ["overview.json", "overview.html", "overview.csv"];

/// What is written: a report or an overview, by its names and the format that marks it.
#[derive(Clone, Copy)]
struct Kind {
    format: &'static str,
    names: &'static [&'static str],
}

impl Kind {
    fn of(outputs: &[Output]) -> Self {
        if outputs.iter().any(|output| OVERVIEW.contains(&output.name)) {
            Self {
                format: super::overview::FORMAT,
                names: &OVERVIEW,
            }
        } else {
            Self {
                format: FORMAT,
                names: &NAMES,
            }
        }
    }

    /// Whether there is one of this kind in the folder, of whatever version.
    fn is_in(self, folder: &Path) -> bool {
        #[derive(serde::Deserialize)]
        struct Head {
            format: String,
        }
        let mark = self.names.first().map(|name| folder.join(name));
        mark.filter(|mark| mark.is_file())
            .and_then(|mark| File::open(mark).ok())
            .and_then(|file| serde_json::from_reader::<_, Head>(io::BufReader::new(file)).ok())
            .is_some_and(|head| head.format == self.format)
    }
}

/// Whether an older report may be replaced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Consent {
    /// Refuse if there is one.
    Keep,
    /// Replace it; still refuse if the files are not a report.
    Replace,
}

/// Why a report could not be put in place. Nothing was changed.
#[derive(Debug, thiserror::Error)]
pub enum FolderError {
    /// There is a report already.
    #[error("there is a report already in {}", .0.display())]
    Exists(PathBuf),
    /// The folder is a link to another one.
    #[error("{} is a link to another folder", .0.display())]
    Link(PathBuf),
    /// A file of that name is there, and it is not a report's.
    #[error("{} is in the way and is not part of a report", .0.display())]
    Foreign(PathBuf),
    /// The disk, or rights.
    #[error("cannot {doing} {}: {source}", .path.display())]
    Io {
        /// What was tried.
        doing: &'static str,
        /// On which file.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

impl FolderError {
    /// What the user can do about it.
    pub fn remedy(&self) -> &'static str {
        match self {
            Self::Exists(_) => "choose another folder, or say that it may be replaced",
            Self::Link(_) => {
                "name the folder that it leads to, so that nothing is written elsewhere unseen"
            }
            Self::Foreign(_) => "choose another folder, or move the file away",
            Self::Io { .. } => {
                "check the folder's rights and the free space, or choose another folder"
            }
        }
    }
}

/// Writes the outputs into the folder, which is made if need be. All are first written beside
/// their places and synced; only then are they renamed into them, so that no output is ever
/// half-written. Files of other names are left alone.
///
/// # Errors
/// See [`FolderError`]; in every case an older report is still as it was (or, if the system fails
/// in the middle of the renames, is known as mixed by `verify`).
pub fn write_folder(
    folder: &Path,
    outputs: &[Output],
    consent: Consent,
) -> Result<Vec<PathBuf>, FolderError> {
    let io = |doing, path: &Path| {
        let path = path.to_owned();
        move |source| FolderError::Io {
            doing,
            path,
            source,
        }
    };
    let older = refuse_if_in_the_way(folder, outputs, consent)?;
    let made = !folder.exists();
    fs::create_dir_all(folder).map_err(io("make", folder))?;
    let mut ready = Vec::with_capacity(outputs.len());
    for output in outputs {
        let place = folder.join(output.name);
        match write_beside(folder, &output.bytes) {
            Ok(file) => ready.push((file, place)),
            Err(error) => {
                drop(ready);
                if made {
                    // Leaves no empty folder behind; it is not removed if it is not empty.
                    let _ = fs::remove_dir(folder);
                }
                return Err(io("write", &place)(error));
            }
        }
    }
    let mut written = Vec::with_capacity(ready.len());
    for (file, place) in ready {
        file.persist(&place)
            .map_err(|error| io("put in place", &place)(error.error))?;
        written.push(place);
    }
    if older {
        clear_older(folder, outputs).map_err(io("clear", folder))?;
    }
    sync(folder);
    Ok(written)
}

/// Gives whether there is an older report that is to be replaced.
fn refuse_if_in_the_way(
    folder: &Path,
    outputs: &[Output],
    consent: Consent,
) -> Result<bool, FolderError> {
    // Without a slash at its end, behind which the system would look at where the link leads.
    if folder.components().as_path().is_symlink() {
        return Err(FolderError::Link(folder.to_owned()));
    }
    if folder.exists() && !folder.is_dir() {
        return Err(FolderError::Foreign(folder.to_owned()));
    }
    let in_the_way = outputs
        .iter()
        .map(|output| folder.join(output.name))
        .find(|path| path.symlink_metadata().is_ok());
    match (in_the_way, Kind::of(outputs).is_in(folder), consent) {
        (None, _, _) => Ok(false),
        (Some(_), true, Consent::Replace) => Ok(true),
        (Some(_), true, Consent::Keep) => Err(FolderError::Exists(folder.to_owned())),
        (Some(path), false, _) => Err(FolderError::Foreign(path)),
    }
}

fn write_beside(folder: &Path, bytes: &[u8]) -> io::Result<NamedTempFile> {
    let mut file = temporary_in(folder)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    Ok(file)
}

/// A file to be written whole and then renamed into its place in the same folder. Until then it
/// has a name of its own and is removed if the program ends.
///
/// # Errors
/// If it cannot be made.
pub fn temporary_in(folder: &Path) -> io::Result<NamedTempFile> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(".needlerest-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // What is handed over may be read by others, as far as the user's umask lets them.
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder)
}

/// A table that an older report had and this one has not would no longer belong to it.
fn clear_older(folder: &Path, outputs: &[Output]) -> io::Result<()> {
    for name in Kind::of(outputs).names {
        let path = folder.join(name);
        if outputs.iter().all(|output| output.name != *name) && path.is_file() {
            fs::remove_file(path)?;
        }
    }
    Ok(())
}

/// Makes the renames last through a power cut, where the system lets a folder be synced.
fn sync(folder: &Path) {
    if let Ok(folder) = File::open(folder) {
        // Some file systems refuse; the files themselves are synced already.
        let _ = folder.sync_all();
    }
}
