//! A recording's file.

use super::background::BackgroundSink;
use super::sink::Sink;
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// A file. It is locked while it is written, so that no second program writes it too.
#[derive(Debug)]
pub struct FileSink {
    file: File,
    path: PathBuf,
    /// How long the file should be, at least: what it had when it was opened, and what was
    /// appended since. Shared with the one that syncs.
    length: Arc<AtomicU64>,
}

impl FileSink {
    /// Makes a new file; one that exists is never touched.
    ///
    /// # Errors
    /// When it exists already or cannot be made.
    pub fn create(path: &Path) -> io::Result<Self> {
        if cfg!(windows) && is_device(path) {
            return Err(io::Error::new(
                io::ErrorKind::InvalidFilename,
                "Windows keeps this name for a device; a file of it would keep nothing",
            ));
        }
        let made = Self::locked(options().create_new(true).open(path)?, path);
        let made = made.and_then(|sink| sync_folder(path).map(|()| sink));
        made.inspect_err(|_| {
            // The failure itself is what the caller must know; an empty file is of no use.
            let _ = std::fs::remove_file(path);
        })
    }

    /// Opens a file to append to it.
    ///
    /// # Errors
    /// When it cannot be opened, or another program is writing it.
    pub(super) fn append_to(path: &Path) -> io::Result<Self> {
        let open = options().open(path);
        let file = open.map_err(|error| {
            if refused_sharing(&error) {
                written_by_another()
            } else {
                error
            }
        })?;
        Self::locked(file, path)
    }

    fn locked(file: File, path: &Path) -> io::Result<Self> {
        // A file system that knows no locks is no reason to refuse.
        if !cfg!(windows)
            && let Err(std::fs::TryLockError::WouldBlock) = file.try_lock()
        {
            return Err(written_by_another());
        }
        let length = Arc::new(AtomicU64::new(file.metadata()?.len()));
        let path = path.to_owned();
        Ok(Self { file, path, length })
    }

    /// The file's path.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Writes in the background from here on.
    ///
    /// # Errors
    /// When the system has no more file handles or threads.
    pub(super) fn into_background(self) -> io::Result<BackgroundSink> {
        let mut twin = Self {
            file: self.file.try_clone()?,
            path: self.path.clone(),
            length: Arc::clone(&self.length),
        };
        let mut sink = self;
        BackgroundSink::start(move |bytes| sink.append(bytes), move || twin.sync())
    }

    /// Writing to a file that somebody else cuts short succeeds too, and what was there is gone.
    fn still_whole(&self, length: u64) -> io::Result<()> {
        let left = self.file.metadata()?.len();
        if left < length {
            return Err(io::Error::new(
                io::ErrorKind::UnexpectedEof,
                format!(
                    "the file was cut short from outside while it was being written: {left} of \
                     {length} bytes are left"
                ),
            ));
        }
        Ok(())
    }

    /// Writing to a file that was deleted succeeds, and all is gone in the end: better told now.
    #[cfg(unix)]
    fn still_there(&self) -> io::Result<()> {
        use std::os::unix::fs::MetadataExt;
        if self.file.metadata()?.nlink() == 0 {
            return Err(io::Error::new(
                io::ErrorKind::NotFound,
                "the file was deleted while it was being written",
            ));
        }
        Ok(())
    }

    #[cfg(not(unix))]
    #[allow(clippy::unused_self, clippy::unnecessary_wraps, reason = "as on Unix")]
    fn still_there(&self) -> io::Result<()> {
        Ok(())
    }
}

/// To append, so that a file that is cut short from outside gets no hole.
#[cfg(not(windows))]
fn options() -> OpenOptions {
    let mut options = OpenOptions::new();
    options.append(true);
    options
}

/// Likewise. Windows locks no file that is open for appending only, and what it locks nobody can
/// read; so others are let read it, and neither write nor remove it.
#[cfg(windows)]
fn options() -> OpenOptions {
    use std::os::windows::fs::OpenOptionsExt;
    const FILE_SHARE_READ: u32 = 1;
    let mut options = OpenOptions::new();
    options.append(true).share_mode(FILE_SHARE_READ);
    options
}

/// `ERROR_SHARING_VIOLATION`: what Windows says of a file that is open here already.
fn refused_sharing(error: &io::Error) -> bool {
    cfg!(windows) && error.raw_os_error() == Some(32)
}

fn written_by_another() -> io::Error {
    io::Error::new(io::ErrorKind::ResourceBusy, "another program is writing it")
}

/// Whether Windows takes the file's name for a device, whatever its ending: "Naming Files, Paths,
/// and Namespaces", Win32 documentation.
fn is_device(path: &Path) -> bool {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let name = name.split('.').next().unwrap_or_default();
    let name = name.trim_end().to_ascii_uppercase();
    let numbered = |of: &str| {
        let rest = name.strip_prefix(of);
        rest.is_some_and(|n| {
            n.chars().count() == 1 && n.chars().all(|c| "123456789¹²³".contains(c))
        })
    };
    ["CON", "PRN", "AUX", "NUL"].contains(&name.as_str()) || numbered("COM") || numbered("LPT")
}

impl Sink for FileSink {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.file.write_all(bytes)?;
        self.length.fetch_add(bytes.len() as u64, Ordering::Release);
        Ok(())
    }
    fn sync(&mut self) -> io::Result<()> {
        // Looked up first: what is appended meanwhile makes the file longer, never shorter.
        let length = self.length.load(Ordering::Acquire);
        self.file.sync_data()?;
        self.still_there()?;
        self.still_whole(length)
    }
}

/// Brings a new file's entry in its folder to the disk, so that a power cut does not lose the
/// whole file.
fn sync_folder(path: &Path) -> io::Result<()> {
    if cfg!(unix) {
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder,
            _ => Path::new("."),
        };
        File::open(folder)?.sync_all()?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::is_device;
    use std::path::Path;

    #[test]
    fn names_of_devices_are_known_with_any_ending() {
        for name in [
            "nul",
            "NUL.jsonl",
            "a/aux.b.jsonl",
            "con .jsonl",
            "Com1.jsonl",
            "lpt³",
        ] {
            assert!(is_device(Path::new(name)), "{name}");
        }
        for name in [
            "null.jsonl",
            "com.jsonl",
            "com10.jsonl",
            "nul/a.jsonl",
            "lpt0",
            "heron.jsonl",
        ] {
            assert!(!is_device(Path::new(name)), "{name}");
        }
    }
}
