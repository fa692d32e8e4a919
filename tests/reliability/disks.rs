//! Disks that fill up, go away, stall or lose power, under the real program. What needs a mount
//! needs root; where that is not to be had the fault is told as not tried.

use super::support::{Random, Tally, judge, kill, program, tape, tool};
use needlerest::recording::Packet;
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

/// Longest wait for the program to say something: a hang is a failure.
const PATIENCE: Duration = Duration::from_secs(30);

/// A file system of its own, taken away in the end.
pub struct Mounted {
    folder: tempfile::TempDir,
    image: Option<tempfile::NamedTempFile>,
}

impl Mounted {
    /// In memory, of so many kilobytes.
    pub fn tmpfs(kilobytes: u32, more: &str) -> Option<Self> {
        let folder = tempfile::tempdir().ok()?;
        let options = format!("size={kilobytes}k{more}");
        tool(
            "mount",
            &["-t", "tmpfs", "-o", &options, "tmpfs", text(folder.path())],
        )
        .then_some(Self {
            folder,
            image: None,
        })
    }

    /// An ext4 in an image, as on a stick.
    pub fn stick() -> Option<Self> {
        let folder = tempfile::tempdir().ok()?;
        let image = tempfile::NamedTempFile::new().ok()?;
        image.as_file().set_len(16 * 1024 * 1024).ok()?;
        let made = tool("mkfs.ext4", &["-q", "-F", text(image.path())]);
        let mounted = Self {
            folder,
            image: Some(image),
        };
        (made && mounted.mount()).then_some(mounted)
    }

    fn mount(&self) -> bool {
        let image = self
            .image
            .as_ref()
            .map_or(Path::new("none"), |image| image.path());
        tool(
            "mount",
            &["-o", "loop", text(image), text(self.folder.path())],
        )
    }

    fn unmount(&self) -> bool {
        tool("umount", &[text(self.folder.path())])
    }

    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    fn file(&self) -> PathBuf {
        self.path().join("session.jsonl")
    }

    /// The device is gone: nothing that was not synced is on it, and every access fails. This is
    /// the call by which file systems are tested for the loss of power (`EXT4_IOC_SHUTDOWN` with
    /// `EXT4_GOING_FLAGS_NOLOGFLUSH`, Linux `fs/ext4/ioctl.c`). Gives the moments before and after.
    fn shut_down(&self) -> Option<(Instant, Instant)> {
        const SCRIPT: &str = "import fcntl,os,struct,sys\n\
            folder=os.open(sys.argv[1],os.O_RDONLY)\n\
            print('ready',flush=True)\n\
            sys.stdin.readline()\n\
            fcntl.ioctl(folder,0x8004587D,struct.pack('I',2))\n\
            print('done',flush=True)";
        let mut python = Command::new("python3")
            .args(["-c", SCRIPT, text(self.path())])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .ok()?;
        let mut said = BufReader::new(python.stdout.take()?).lines();
        said.next()?.ok()?;
        let before = Instant::now();
        python.stdin.take()?.write_all(b"\n").ok()?;
        said.next()?.ok()?;
        let after = Instant::now();
        python.wait().ok()?.success().then_some((before, after))
    }
}

impl Drop for Mounted {
    fn drop(&mut self) {
        tool("fsfreeze", &["-u", text(self.path())]);
        if !self.unmount() {
            tool("umount", &["-l", text(self.path())]);
        }
    }
}

fn text(path: &Path) -> &str {
    path.to_str().expect("UTF-8")
}

/// The program recording a played sensor in its own time, and what it says.
struct Live {
    child: Child,
    said: Receiver<(Instant, String)>,
    /// When the sensor's time began, as near as the file's appearing tells.
    began: Instant,
    _tape: tempfile::TempDir,
    packets: Vec<Packet>,
}

impl Live {
    fn start(file: &Path) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let played = folder.path().join("tape.jsonl");
        let (bytes, packets) = tape(3000);
        std::fs::write(&played, bytes).expect("the tape");
        let mut child = program()
            .arg("record")
            .arg(file)
            .arg("--replay")
            .arg(&played)
            .spawn()
            .expect("the program starts");
        let (say, said) = channel();
        let err = child.stderr.take().expect("piped");
        std::thread::spawn(move || {
            for line in BufReader::new(err).lines().map_while(Result::ok) {
                if say.send((Instant::now(), line)).is_err() {
                    return;
                }
            }
        });
        while !file.exists() {
            std::thread::sleep(Duration::from_millis(1));
        }
        Self {
            child,
            said,
            began: Instant::now(),
            _tape: folder,
            packets,
        }
    }

    fn wait(&self, random: &mut Random) {
        let wait = Duration::from_millis(200 + random.below(1500));
        std::thread::sleep(wait.saturating_sub(self.began.elapsed()));
    }

    /// The sensor's time, in microseconds.
    fn time_us(&self, at: Instant) -> u64 {
        at.saturating_duration_since(self.began).as_micros() as u64
    }

    /// Packets received until then.
    fn until(&self, at: Instant) -> &[Packet] {
        let time = self.time_us(at);
        let count = self.packets.partition_point(|packet| packet.t_us <= time);
        &self.packets[..count]
    }

    /// When it said these words.
    fn says(&self, words: &str) -> Result<Instant, String> {
        let mut heard = String::new();
        let deadline = Instant::now() + PATIENCE;
        loop {
            match self
                .said
                .recv_timeout(deadline.saturating_duration_since(Instant::now()))
            {
                Ok((at, line)) if line.contains(words) => return Ok(at),
                Ok((_, line)) => heard.push_str(&line),
                Err(RecvTimeoutError::Timeout) => return Err(format!("says nothing: {heard}")),
                Err(RecvTimeoutError::Disconnected) => return Err(format!("only says: {heard}")),
            }
        }
    }

    fn told(&self, words: &str, since: Instant, tally: &mut Tally) {
        match self.says(words) {
            Ok(at) => {
                let late = at.saturating_duration_since(since).as_millis() as u64;
                tally.told_ms = tally.told_ms.max(Some(late));
            }
            Err(why) => tally.wrong(why),
        }
    }
}

impl Drop for Live {
    fn drop(&mut self) {
        kill(&mut self.child);
    }
}

const GONE: &str = "nothing is kept";

/// The disk fills up: what fitted is kept, and the first packet that does not fit is told.
pub fn full(tries: u64) -> Tally {
    let mut tally = Tally::of("disk full");
    for seed in 0..tries {
        let Some(disk) = Mounted::tmpfs(256, "") else {
            return Tally::skipped("disk full", "mounting needs root");
        };
        let live = Live::start(&disk.file());
        live.wait(&mut Random(seed));
        let filler = std::fs::write(disk.path().join("filler"), vec![1; 1024 * 1024]);
        assert!(filler.is_err(), "the disk is full");
        let said = live.says(GONE);
        let (kept, _) = super::support::kept(&disk.file());
        match said {
            Ok(at) => {
                // The page in hand may have had room for some more.
                let first_missing = live.packets[kept.len()].t_us;
                let late = live.time_us(at).saturating_sub(first_missing) / 1000;
                tally.told_ms = tally.told_ms.max(Some(late));
                judge(&mut tally, &disk.file(), &live.packets[..kept.len()], seed);
            }
            Err(why) => tally.wrong(why),
        }
    }
    tally
}

/// The file is deleted: told, though every write to it still succeeds.
pub fn deleted(tries: u64) -> Tally {
    let mut tally = Tally::of("file deleted");
    for seed in 0..tries {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("session.jsonl");
        let live = Live::start(&file);
        live.wait(&mut Random(seed));
        std::fs::remove_file(&file).expect("it is there");
        tally.tries += 1;
        live.told(GONE, Instant::now(), &mut tally);
    }
    tally
}

/// Somebody else cuts the file short: told, though every write to it still succeeds.
pub fn cut_short(tries: u64) -> Tally {
    let mut tally = Tally::of("file cut short from outside");
    for seed in 0..tries {
        let folder = tempfile::tempdir().expect("a folder");
        let file = folder.path().join("session.jsonl");
        let live = Live::start(&file);
        let mut random = Random(seed);
        live.wait(&mut random);
        let other = std::fs::OpenOptions::new().write(true).open(&file);
        let other = other.expect("it is there");
        let length = other.metadata().expect("its length").len();
        other.set_len(random.below(length)).expect("it can be cut");
        tally.tries += 1;
        live.told(GONE, Instant::now(), &mut tally);
    }
    tally
}

/// The device goes away: told; afterwards all but the last moment is on it.
pub fn detached(tries: u64) -> Tally {
    let mut tally = Tally::of("device gone, power lost");
    for seed in 0..tries {
        let Some(disk) = Mounted::stick() else {
            return Tally::skipped(tally.fault, "mounting an image needs root and mkfs.ext4");
        };
        let live = Live::start(&disk.file());
        live.wait(&mut Random(seed));
        let Some((before, _)) = disk.shut_down() else {
            return Tally::skipped(tally.fault, "no python3 to shut the file system down");
        };
        live.told(GONE, before, &mut tally);
        let received = live.until(before).to_vec();
        drop(live);
        if !(disk.unmount() && disk.mount()) {
            tally.wrong(format!("seed {seed}: the image cannot be mounted again"));
            continue;
        }
        // What came after `before` may have been kept as well.
        let (kept, _) = super::support::kept(&disk.file());
        let all = tape(3000).1;
        judge(
            &mut tally,
            &disk.file(),
            &all[..received.len().max(kept.len())],
            seed,
        );
    }
    tally
}

/// The disk stops answering for two seconds: told, and so is its return; nothing is lost.
pub fn stalled(tries: u64) -> Tally {
    let mut tally = Tally::of("disk stalls 2 s");
    for seed in 0..tries {
        let Some(disk) = Mounted::stick() else {
            return Tally::skipped(tally.fault, "mounting an image needs root and mkfs.ext4");
        };
        let live = Live::start(&disk.file());
        live.wait(&mut Random(seed));
        let since = Instant::now();
        if !tool("fsfreeze", &["-f", text(disk.path())]) {
            return Tally::skipped(tally.fault, "no fsfreeze");
        }
        live.told("does not answer", since, &mut tally);
        std::thread::sleep(Duration::from_secs(2).saturating_sub(since.elapsed()));
        let thawed = Instant::now();
        tool("fsfreeze", &["-u", text(disk.path())]);
        if let Err(why) = live.says("answers again") {
            tally.wrong(why);
        }
        let received = live.until(thawed).len();
        // All that was held during the stall must have reached the file by now.
        std::thread::sleep(Duration::from_millis(300));
        let packets = live.packets.clone();
        drop(live);
        let (kept, _) = super::support::kept(&disk.file());
        judge(
            &mut tally,
            &disk.file(),
            &packets[..received.max(kept.len())],
            seed,
        );
    }
    tally
}

/// A folder that cannot be written is refused before anything is recorded.
pub fn read_only() -> Tally {
    let mut tally = Tally::of("read-only folder");
    let Some(disk) = Mounted::tmpfs(256, ",ro") else {
        return Tally::skipped(tally.fault, "mounting needs root");
    };
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/demo/wren.jsonl");
    let output = program()
        .arg("record")
        .arg(disk.file())
        .args(["--speed", "0", "--replay", demo])
        .output()
        .expect("the program starts");
    tally.tries = 1;
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    let clear = said.contains("Read-only") && said.contains("do: ");
    if output.status.code() != Some(1) || !clear {
        tally.wrong(said);
    }
    tally
}
