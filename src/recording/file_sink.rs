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
        // To append, so that a file that is cut short from outside gets no hole.
        let file = OpenOptions::new()
            .append(true)
            .create_new(true)
            .open(path)?;
        let made = Self::locked(file, path);
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
        Self::locked(OpenOptions::new().append(true).open(path)?, path)
    }

    fn locked(file: File, path: &Path) -> io::Result<Self> {
        // A file system that knows no locks is no reason to refuse.
        if let Err(std::fs::TryLockError::WouldBlock) = file.try_lock() {
            return Err(io::Error::new(
                io::ErrorKind::ResourceBusy,
                "another program is writing it",
            ));
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
