//! Where a recording is written to.

use std::io;
use std::time::Duration;

/// Takes the bytes of a recording. A trait, so that faults of a disk can be played in tests.
pub trait Sink {
    /// Appends all of `bytes`, so that they survive the end of this process.
    ///
    /// # Errors
    /// When they could not all be written; some may have been.
    fn append(&mut self, bytes: &[u8]) -> io::Result<()>;

    /// Brings everything appended so far to the disk, so that it survives the end of the machine.
    ///
    /// # Errors
    /// When it could not.
    fn sync(&mut self) -> io::Result<()>;

    /// Waits until all of that has been done, where it is done in the background.
    ///
    /// # Errors
    /// When it could not be done.
    fn settle(&mut self) -> io::Result<()> {
        Ok(())
    }

    /// For how long the disk has not answered.
    fn behind(&self) -> Duration {
        Duration::ZERO
    }
}

/// In memory: nothing to bring to a disk.
impl Sink for Vec<u8> {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.extend_from_slice(bytes);
        Ok(())
    }
    fn sync(&mut self) -> io::Result<()> {
        Ok(())
    }
}
