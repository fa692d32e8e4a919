//! A clean copy of a damaged recording.

use super::made::{packet, records, small, small_header};
use needlerest::recording::{
    Event, OpenError, Record, RecoverError, Recovered, WriteError, Writer, recover,
};

/// Records without the seal, and without the note that recovery adds.
fn content(bytes: &[u8]) -> Vec<Record> {
    let added = |record: &Record| match record {
        Record::Seal(_) => true,
        Record::Event(event) => {
            matches!(&event.event, Event::Note { text } if text.starts_with("Recovered copy"))
        }
        _ => false,
    };
    records(bytes)
        .into_iter()
        .filter(|record| !added(record))
        .collect()
}

#[test]
fn everything_undamaged_is_kept_and_the_copy_is_whole() {
    let folder = tempfile::tempdir().unwrap();
    let original = small();
    let mut damaged = original.clone();
    let lines: Vec<usize> = original
        .iter()
        .enumerate()
        .filter(|(_, b)| **b == b'\n')
        .map(|(i, _)| i)
        .collect();
    damaged[lines[2] + 12] ^= 0x10;
    damaged.truncate(lines[6] + 9);
    let copy = folder.path().join("copy.jsonl");
    let recovered = recover(damaged.as_slice(), &copy).unwrap();
    assert_eq!(
        recovered,
        Recovered {
            kept: 6,
            damaged_lines: 2,
            missing_lines: 0
        }
    );
    let mut expected = content(&original);
    expected.remove(2);
    let bytes = std::fs::read(&copy).unwrap();
    assert_eq!(content(&bytes), expected);

    // What exists is never overwritten, not even by a recovery.
    let again = recover(damaged.as_slice(), &copy);
    assert!(matches!(
        again,
        Err(RecoverError::Write(WriteError::Exists))
    ));
    assert_eq!(std::fs::read(&copy).unwrap(), bytes);
    // A copy of a copy holds the same.
    let second = folder.path().join("second.jsonl");
    recover(bytes.as_slice(), &second).unwrap();
    assert_eq!(content(&std::fs::read(&second).unwrap()), expected);
}

#[test]
fn without_a_header_there_is_nothing_to_recover_from() {
    let folder = tempfile::tempdir().unwrap();
    let copy = folder.path().join("copy.jsonl");
    let mut bytes = small();
    bytes[30] ^= 1;
    let error = recover(bytes.as_slice(), &copy).unwrap_err();
    assert!(
        matches!(error, RecoverError::Open(OpenError::DamagedHeader { .. })),
        "{error}"
    );
    assert!(!copy.exists());
}

/// A disk that cannot be read on in the middle of the file.
struct BadSector<'a>(&'a [u8]);

impl std::io::Read for BadSector<'_> {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        if self.0.is_empty() {
            return Err(std::io::Error::other("bad sector"));
        }
        self.0.read(into)
    }
}

#[test]
fn a_copy_that_is_not_complete_is_removed_again() {
    let folder = tempfile::tempdir().unwrap();
    let copy = folder.path().join("copy.jsonl");
    let mut writer = Writer::begin(Vec::new(), &small_header()).unwrap();
    for i in 0..100 {
        writer.packet(&packet(i, 1)).unwrap();
    }
    let bytes = writer.seal().unwrap().0;
    let input = std::io::BufReader::new(BadSector(&bytes[..2000]));
    let error = recover(input, &copy).unwrap_err();
    assert!(matches!(error, RecoverError::Read(_)), "{error}");
    assert!(!copy.exists());
}

/// What is missing is counted in the copy's note, in lines.
#[test]
fn missing_lines_are_counted() {
    let folder = tempfile::tempdir().unwrap();
    let copy = folder.path().join("copy.jsonl");
    let original = small();
    let lines: Vec<&[u8]> = original.split_inclusive(|byte| *byte == b'\n').collect();
    // Two on end, and one by itself.
    let left = [&lines[..2], &lines[4..5], &lines[6..]].concat().concat();
    let recovered = recover(left.as_slice(), &copy).unwrap();
    assert_eq!((recovered.missing_lines, recovered.damaged_lines), (3, 0));
    let text = std::fs::read_to_string(&copy).unwrap();
    assert!(text.contains("0 damaged and 3 missing lines"), "{text}");
}
