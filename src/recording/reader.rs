//! Reads a recording line by line, whatever state it is in.

use super::format::{CORRECTED_VERSION, Event, Header, Record, Seal, VERSION};
use super::found::{Line, SealState};
use super::limits;
use super::line::{self, Damage};
use super::order::{Order, Placed, Sound};
use sha2::{Digest, Sha256};
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read};
use std::path::Path;

/// What [`Header::format`] says.
pub const FORMAT: &str = "needlerest-session";
/// Why a file cannot be read as a recording at all.
#[derive(Debug, thiserror::Error)]
pub enum OpenError {
    /// The file cannot be read.
    #[error("cannot read the recording: {0}")]
    Io(#[from] io::Error),
    /// There is nothing in it.
    #[error("the file is empty: nothing was recorded")]
    Empty,
    /// It is some other file.
    #[error("the file is not a recording of needlerest")]
    NotARecording,
    /// It was written by a newer program.
    #[error(
        "the recording is of version {found}, this program reads up to version {CORRECTED_VERSION}; use a \
         newer needlerest"
    )]
    Newer {
        /// Its version.
        found: u64,
    },
    /// Its first line, which says how all others are read, is damaged.
    #[error("the first line of the recording is damaged: {why}")]
    DamagedHeader {
        /// How.
        why: String,
    },
}

/// Reads a recording line by line, in constant memory. Every line is verified; one that is
/// damaged is told as such and reading goes on.
#[derive(Debug)]
pub struct Reader<R> {
    input: R,
    header: Header,
    /// Lines that have been read and are not in the digest yet, the one in hand last.
    buffer: Vec<u8>,
    /// Where in the buffer it begins.
    start: usize,
    /// Lines of the file that were read.
    lines: u64,
    order: Order,
    digest: Sha256,
    seal: SealState,
    /// A seal was the last good line.
    sealed: bool,
    torn: bool,
}

/// What reading one line off the input gave.
enum Taken {
    End,
    Whole,
    Torn,
    TooLong,
}

/// Opens a recording in a file.
///
/// # Errors
/// When the file cannot be read, or is no recording that can be read here.
pub fn open(path: &Path) -> Result<Reader<BufReader<File>>, OpenError> {
    Reader::new(BufReader::with_capacity(1 << 16, File::open(path)?))
}

impl<R: BufRead> Reader<R> {
    /// Reads the header.
    ///
    /// # Errors
    /// When the input cannot be read, or is no recording that can be read here.
    pub fn new(mut input: R) -> Result<Self, OpenError> {
        let mut buffer = Vec::with_capacity(2 * BATCH);
        let taken = take_line(&mut input, &mut buffer)?;
        let header = match taken {
            Taken::End => return Err(OpenError::Empty),
            Taken::Whole => header(&buffer)?,
            Taken::Torn => return Err(unreadable_header(&buffer, Damage::TornTail.to_string())),
            Taken::TooLong => return Err(unreadable_header(&buffer, Damage::TooLong.to_string())),
        };
        Ok(Self {
            input,
            header,
            buffer,
            start: 0,
            lines: 1,
            order: Order::new(),
            digest: Sha256::new(),
            seal: SealState::Missing,
            sealed: false,
            torn: false,
        })
    }

    /// What the recording rests on.
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// What became of the seal; only to be relied on once every line has been read.
    pub fn seal(&self) -> &SealState {
        &self.seal
    }

    /// Lines of the file read so far, the header included.
    pub fn lines(&self) -> u64 {
        self.lines
    }

    /// Where a writer has to go on: the next line's number, the digest of all bytes so far, and
    /// whether the last line breaks off.
    pub(super) fn into_state(mut self) -> (u64, Sha256, bool) {
        self.digest.update(&self.buffer);
        (self.order.next(), self.digest, self.torn)
    }

    /// Reads the next line, or a piece of one that is too long. What was read before goes into the
    /// digest many lines at a time, which is quicker than line by line.
    fn take(&mut self) -> io::Result<Taken> {
        if self.buffer.len() >= BATCH {
            self.digest.update(&self.buffer);
            self.buffer.clear();
        }
        self.start = self.buffer.len();
        take_line(&mut self.input, &mut self.buffer)
    }

    /// The line in hand.
    fn line(&self) -> &[u8] {
        self.buffer.get(self.start..).unwrap_or_default()
    }

    /// The digest of everything before the line in hand. No byte goes through it twice, whatever
    /// number of seals a file has.
    fn digest_before(&mut self) -> Sha256 {
        let before = self.buffer.get(..self.start).unwrap_or_default();
        self.digest.update(before);
        self.buffer.drain(..before.len());
        self.start = 0;
        self.digest.clone()
    }

    fn read_line(&mut self) -> io::Result<Option<Line>> {
        loop {
            match self.order.pop() {
                Some(Placed::Damaged(line)) => return Ok(Some(line)),
                Some(Placed::Sound { line, sound }) => return Ok(Some(self.used(line, sound))),
                None => {}
            }
            if !self.read_more()? {
                self.order.end();
                if self.order.is_empty() {
                    return Ok(None);
                }
            }
        }
    }

    /// Reads the file's next line, or all that come next and are too short to be anything; gives
    /// whether there was one.
    fn read_more(&mut self) -> io::Result<bool> {
        let first = self.lines + 1;
        loop {
            let taken = self.take()?;
            let short = self.lines + 1 - first;
            let is_short = matches!(taken, Taken::Whole) && self.line().len() <= line::TOO_SHORT;
            if is_short {
                self.lines += 1 + self.pass_short_lines()?;
                continue;
            }
            if short > 0 {
                self.order.push(first, short, 0, Err(Damage::NoCheckValue));
            }
            if matches!(taken, Taken::End) {
                return Ok(short > 0);
            }
            self.lines += 1;
            let what = self.look(taken)?;
            let length = self.line().len();
            self.order.push(self.lines, 1, length, what);
            return Ok(true);
        }
    }

    /// Passes over whole lines that are too short to be anything, as far as they are at hand; gives
    /// how many. A file of nothing else is read as fast as any.
    fn pass_short_lines(&mut self) -> io::Result<u64> {
        let ahead = self.input.fill_buf()?;
        let (mut count, mut whole, mut length) = (0, 0, 0);
        for (place, byte) in ahead.iter().enumerate() {
            length += 1;
            if *byte == b'\n' {
                (count, whole, length) = (count + 1, place + 1, 0);
            } else if length >= line::TOO_SHORT {
                break;
            }
        }
        self.buffer
            .extend_from_slice(ahead.get(..whole).unwrap_or_default());
        self.input.consume(whole);
        Ok(count)
    }

    /// What the line in hand holds, or why it cannot be used.
    fn look(&mut self, mut taken: Taken) -> io::Result<Result<Sound, Damage>> {
        while matches!(taken, Taken::TooLong) && !self.line().ends_with(b"\n") {
            // The rest of an endless line is passed over, a piece at a time.
            match self.take()? {
                Taken::End => break,
                Taken::Whole | Taken::TooLong => {}
                Taken::Torn => taken = Taken::TooLong,
            }
        }
        Ok(match taken {
            Taken::Torn => {
                self.torn = true;
                Err(Damage::TornTail)
            }
            Taken::TooLong => Err(Damage::TooLong),
            Taken::Whole | Taken::End => self.sound(),
        })
    }

    /// Verifies and parses the line in hand.
    fn sound(&mut self) -> Result<Sound, Damage> {
        let (number, record) = line::read(self.line())?;
        let seal = match &record {
            Record::Seal(seal) => Some(judge(seal, number, self.digest_before())),
            _ => None,
        };
        Ok(Sound {
            number,
            record,
            seal,
        })
    }

    /// A line that is in its place: whether it may stand there.
    fn used(&mut self, number: u64, sound: Sound) -> Line {
        let outcome = match (sound.record, sound.seal) {
            (Record::Header(_), _) => Err(Damage::SecondHeader),
            (record, Some(state)) if !self.sealed => {
                self.seal = state;
                self.sealed = true;
                Ok(record)
            }
            (record, _) if !self.sealed => Ok(record),
            // A sealed session that goes on will be sealed again, over all that came before.
            (record, _) if is_resumed(&record) => {
                self.sealed = false;
                self.seal = SealState::Missing;
                Ok(record)
            }
            _ => Err(Damage::AfterSeal),
        };
        Line {
            number,
            count: 1,
            outcome,
        }
    }
}

fn is_resumed(record: &Record) -> bool {
    let Record::Event(timed) = record else {
        return false;
    };
    matches!(timed.event, Event::Resumed { .. })
}

impl<R: BufRead> Iterator for Reader<R> {
    type Item = io::Result<Line>;

    fn next(&mut self) -> Option<Self::Item> {
        self.read_line().transpose()
    }
}

/// So many bytes are gathered before they go into the digest.
const BATCH: usize = 16 * 1024;

fn judge(seal: &Seal, number: u64, so_far: Sha256) -> SealState {
    let computed = hex::encode(so_far.finalize());
    let right_count = seal.lines.checked_add(1) == Some(number);
    if seal.sha256 == computed && right_count {
        SealState::Holds { sha256: computed }
    } else {
        SealState::Broken {
            stated: seal.sha256.clone(),
            computed,
        }
    }
}

/// Appends all up to and with the next line end to `buffer`, but never more than a line may have.
fn take_line(input: &mut impl BufRead, buffer: &mut Vec<u8>) -> io::Result<Taken> {
    let read = input.take(limits::LINE as u64).read_until(b'\n', buffer)?;
    Ok(match buffer.last() {
        _ if read == 0 => Taken::End,
        Some(b'\n') => Taken::Whole,
        _ if read < limits::LINE => Taken::Torn,
        _ => Taken::TooLong,
    })
}

/// Reads the header out of the first line.
fn header(whole: &[u8]) -> Result<Header, OpenError> {
    let read = line::read(whole);
    // A newer format may verify its lines in another way, so its version is looked at first;
    // unless a check value of this format says that the line is damaged.
    let damaged = matches!(read, Err(Damage::CheckValue { .. }));
    let json: Option<serde_json::Value> = serde_json::from_slice(whole).ok();
    let entry = |key: &str| json.as_ref().and_then(|json| json.get(key));
    if entry("format").and_then(|format| format.as_str()) == Some(FORMAT)
        && let Some(found) = entry("version").and_then(serde_json::Value::as_u64)
        && found > u64::from(CORRECTED_VERSION)
        && !damaged
    {
        return Err(OpenError::Newer { found });
    }
    match read {
        Ok((_, Record::Header(header))) if header.format != FORMAT => Err(OpenError::NotARecording),
        Ok((1, Record::Header(header))) if known(&header) => Ok(*header),
        Ok(_) => Err(unreadable_header(whole, "it is not the header".to_owned())),
        Err(damage) => Err(unreadable_header(whole, damage.to_string())),
    }
}

/// Tells a damaged recording from a file of another kind.
fn unreadable_header(line: &[u8], why: String) -> OpenError {
    let start = &line[..line.len().min(200)];
    let has = |needle: &[u8]| start.windows(needle.len()).any(|window| window == needle);
    // Either mark will do: one flipped bit spoils at most one of them.
    if !has(FORMAT.as_bytes()) && !start.starts_with(b"{\"type\":\"header\"") {
        return OpenError::NotARecording;
    }
    let why = if line.ends_with(b"\r\n") {
        "its line ends were changed (CR LF); copy the file without converting it".to_owned()
    } else {
        why
    };
    OpenError::DamagedHeader { why }
}

/// Whether the header holds what its version allows.
fn known(header: &Header) -> bool {
    header.version == VERSION && header.sensor.correction.is_none()
        || header.version == CORRECTED_VERSION
}
