//! A sink that writes in threads of its own, so that a disk that takes its time holds up neither
//! gauge nor radio, and one that has stopped answering is noticed.
//!
//! One thread appends, another one syncs: while a sync takes long, what arrives still reaches the
//! operating system and so survives the end of this process.

use super::sink::Sink;
use std::io;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::{Duration, Instant};

/// Most bytes that wait in memory for a disk that does not answer: hours of a fast sensor.
const WAITING_MOST: usize = 64 * 1024 * 1024;
/// Longest wait for the disk when a recording ends.
const SETTLE_MOST: Duration = Duration::from_secs(20);
/// Longest wait for what was appended when the sink is let go without an end.
const DROP_MOST: Duration = Duration::from_secs(1);
/// A disk that has not answered for this long is told to the user.
const STALLED: Duration = Duration::from_millis(700);

enum Job {
    Append(Vec<u8>),
    /// Brings all that came before to the disk.
    Sync,
}

/// What the threads have done.
#[derive(Debug, Default)]
struct Progress {
    /// Bytes handed over, and bytes appended.
    given: usize,
    appended: usize,
    /// Syncs asked for, and done.
    asked: u64,
    synced: u64,
    /// When the append, and the sync, that are under way began.
    appending: Option<Instant>,
    syncing: Option<Instant>,
    failed: Option<io::Error>,
}

impl Progress {
    /// Keeps the first failure. It must be there as soon as the work counts as done, or whoever
    /// waits for the end takes it for a success.
    fn note(&mut self, done: io::Result<()>) {
        if let Err(error) = done {
            self.failed.get_or_insert(error);
        }
    }
}

#[derive(Debug, Default)]
struct Shared {
    progress: Mutex<Progress>,
    changed: Condvar,
}

impl Shared {
    /// A thread that panicked left plain numbers behind: they can still be read.
    fn lock(&self) -> MutexGuard<'_, Progress> {
        self.progress.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn change(&self, change: impl FnOnce(&mut Progress)) {
        change(&mut self.lock());
        self.changed.notify_all();
    }

    fn fail(&self, error: io::Error) {
        self.change(|progress| progress.note(Err(error)));
    }

    /// Waits until something holds or the time is up.
    fn wait(&self, most: Duration, holds: impl Fn(&Progress) -> bool) -> MutexGuard<'_, Progress> {
        let waiting = |progress: &mut Progress| progress.failed.is_none() && !holds(progress);
        match self.changed.wait_timeout_while(self.lock(), most, waiting) {
            Ok((progress, _)) => progress,
            Err(poisoned) => poisoned.into_inner().0,
        }
    }
}

/// A sink that writes in threads of its own. An error of the disk comes with the next call;
/// [`Sink::settle`] waits for everything.
#[derive(Debug)]
pub struct BackgroundSink {
    jobs: Sender<Job>,
    shared: Arc<Shared>,
}

impl BackgroundSink {
    /// Appends by one function and syncs by another one.
    ///
    /// # Errors
    /// When the threads cannot be started.
    pub fn start(
        append: impl FnMut(&[u8]) -> io::Result<()> + Send + 'static,
        sync: impl FnMut() -> io::Result<()> + Send + 'static,
    ) -> io::Result<Self> {
        let shared = Arc::new(Shared::default());
        let (jobs, appends) = channel();
        let (to_sync, syncs) = channel();
        let seen = Arc::clone(&shared);
        let named = |name: &str| thread::Builder::new().name(name.to_owned());
        named("append").spawn(move || append_all(&appends, &to_sync, append, &seen))?;
        let seen = Arc::clone(&shared);
        named("sync").spawn(move || sync_all(&syncs, sync, &seen))?;
        Ok(Self { jobs, shared })
    }

    fn hand_over(&self, job: Job, count: impl FnOnce(&mut Progress)) -> io::Result<()> {
        let mut progress = self.shared.lock();
        if let Some(error) = &progress.failed {
            return Err(same(error));
        }
        if progress.given - progress.appended > WAITING_MOST {
            return Err(io::Error::new(
                io::ErrorKind::TimedOut,
                "the disk does not keep up, and memory is not to be filled",
            ));
        }
        count(&mut progress);
        drop(progress);
        let gone = |_| io::Error::other("the thread that writes has ended");
        self.jobs.send(job).map_err(gone)
    }
}

impl Sink for BackgroundSink {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.hand_over(Job::Append(bytes.to_vec()), |progress| {
            progress.given += bytes.len();
        })
    }

    fn sync(&mut self) -> io::Result<()> {
        self.hand_over(Job::Sync, |progress| progress.asked += 1)
    }

    fn settle(&mut self) -> io::Result<()> {
        let done = |progress: &Progress| {
            progress.appended == progress.given && progress.synced == progress.asked
        };
        let progress = self.shared.wait(SETTLE_MOST, done);
        match &progress.failed {
            Some(error) => Err(same(error)),
            None if done(&progress) => Ok(()),
            None => Err(io::Error::new(
                io::ErrorKind::TimedOut,
                "the disk does not answer",
            )),
        }
    }

    fn behind(&self) -> Duration {
        let progress = self.shared.lock();
        let under_way = [progress.appending, progress.syncing];
        let since = under_way.into_iter().flatten().min();
        since.map_or(Duration::ZERO, |since| since.elapsed())
    }
}

impl Drop for BackgroundSink {
    /// What was handed over is given a moment to reach the file.
    fn drop(&mut self) {
        drop(
            self.shared
                .wait(DROP_MOST, |progress| progress.appended == progress.given),
        );
    }
}

/// An error cannot be copied; what the user is told of it can.
fn same(error: &io::Error) -> io::Error {
    match error.raw_os_error() {
        Some(code) => io::Error::from_raw_os_error(code),
        None => io::Error::new(error.kind(), error.to_string()),
    }
}

fn append_all(
    jobs: &Receiver<Job>,
    to_sync: &Sender<u64>,
    mut append: impl FnMut(&[u8]) -> io::Result<()>,
    shared: &Shared,
) {
    let mut syncs = 0;
    while let Ok(job) = jobs.recv() {
        match job {
            // After a failure nothing may be glued to half a line.
            Job::Append(_) if shared.lock().failed.is_some() => {}
            Job::Append(bytes) => {
                shared.lock().appending = Some(Instant::now());
                let done = append(&bytes);
                shared.change(|progress| {
                    progress.appending = None;
                    progress.appended += bytes.len();
                    progress.note(done);
                });
            }
            Job::Sync => {
                syncs += 1;
                if to_sync.send(syncs).is_err() {
                    shared.fail(io::Error::other("the thread that syncs has ended"));
                }
            }
        }
    }
}

fn sync_all(asked: &Receiver<u64>, mut sync: impl FnMut() -> io::Result<()>, shared: &Shared) {
    while let Ok(first) = asked.recv() {
        // One sync serves all that were asked for meanwhile.
        let last = asked.try_iter().last().unwrap_or(first);
        shared.lock().syncing = Some(Instant::now());
        let done = sync();
        shared.change(|progress| {
            progress.syncing = None;
            progress.synced = last;
            progress.note(done);
        });
    }
}

/// Tells once that the disk has stopped answering, and once that it answers again.
#[derive(Clone, Copy, Debug, Default)]
pub struct StallWatch {
    stalled: bool,
}

impl StallWatch {
    /// Looks how far the disk is behind; gives what the user should be told now, if anything.
    pub fn look(&mut self, behind: Duration) -> Option<&'static str> {
        let stalled = behind >= STALLED;
        if stalled == std::mem::replace(&mut self.stalled, stalled) {
            return None;
        }
        Some(if stalled {
            "the disk does not answer: what arrives is held in memory until it does"
        } else {
            "the disk answers again: all that was held has been handed to it"
        })
    }

    /// Whether the disk does not answer now.
    pub fn is_stalled(self) -> bool {
        self.stalled
    }
}
