//! Damage of every kind is found, and reported by line number; the rest is used.

use super::made::{event, header, packet, records, small, small_header};
use needlerest::recording::{
    Damage, Event, Line, OpenError, Reader, Record, SealState, Summary, Writer, limits,
};

/// What reading a recording gives: records, damage, seal.
fn read(bytes: &[u8]) -> Result<(Vec<Line>, SealState), OpenError> {
    let mut reader = Reader::new(bytes)?;
    let lines = reader.by_ref().map(Result::unwrap).collect();
    Ok((lines, reader.seal().clone()))
}

/// The first line of the file that `position` is in, counted from 1.
fn line_at(bytes: &[u8], position: usize) -> u64 {
    bytes[..position].split(|byte| *byte == b'\n').count() as u64
}

fn is_subsequence(part: &[Record], whole: &[Record]) -> bool {
    let mut whole = whole.iter();
    part.iter().all(|record| whole.any(|other| other == record))
}

#[test]
fn every_flipped_bit_is_found_and_pinpointed() {
    let sound = small();
    let original = records(&sound);
    for position in 0..sound.len() {
        for bit in 0..8 {
            let mut bytes = sound.clone();
            bytes[position] ^= 1 << bit;
            let at = format!("bit {bit} of byte {position}");
            let here = line_at(&sound, position);
            let (lines, seal) = match read(&bytes) {
                Ok(read) => read,
                Err(error) => {
                    assert_eq!(here, 1, "{at}: {error}");
                    assert!(
                        matches!(error, OpenError::DamagedHeader { .. }),
                        "{at}: {error}"
                    );
                    continue;
                }
            };
            assert!(here > 1, "{at}: a damaged header was accepted");
            let damaged = lines.iter().find(|line| line.outcome.is_err());
            assert_eq!(damaged.expect(&at).number, here, "{at}");
            assert!(
                !matches!(seal, SealState::Holds { .. }),
                "{at}: the seal still holds"
            );
            // What is left is what was written, at most two lines short (a spoilt line end).
            let left: Vec<Record> = lines.into_iter().filter_map(|l| l.outcome.ok()).collect();
            assert!(is_subsequence(&left, &original), "{at}");
            assert!(left.len() + 2 >= original.len(), "{at}");
        }
    }
}

#[test]
fn every_truncation_is_found() {
    let sound = small();
    let original = records(&sound);
    assert!(matches!(read(&[]), Err(OpenError::Empty)));
    for length in 1..sound.len() {
        let (lines, seal) = match read(&sound[..length]) {
            Ok(read) => read,
            Err(error) => {
                let whole_header = line_at(&sound, length) > 1;
                assert!(!whole_header, "{length}: {error}");
                continue;
            }
        };
        assert_eq!(seal, SealState::Missing, "{length}");
        let at_line_end = sound[length - 1] == b'\n';
        let torn = lines
            .iter()
            .any(|line| line.outcome == Err(Damage::TornTail));
        assert_eq!(torn, !at_line_end, "{length}");
        let left: Vec<Record> = lines.into_iter().filter_map(|l| l.outcome.ok()).collect();
        assert_eq!(left, original[..left.len()], "{length}");
        assert_eq!(
            left.len() as u64 + 1,
            line_at(&sound, length) - 1,
            "{length}"
        );
    }
}

/// Line ends kept.
fn split(bytes: &[u8]) -> Vec<&[u8]> {
    bytes.split_inclusive(|byte| *byte == b'\n').collect()
}

fn only_damage(bytes: &[u8]) -> Vec<(u64, Damage)> {
    let (lines, seal) = read(bytes).unwrap();
    assert!(matches!(seal, SealState::Broken { .. }), "{seal:?}");
    let damaged = lines
        .into_iter()
        .filter_map(|l| Some((l.number, l.outcome.err()?)));
    damaged.collect()
}

#[test]
fn missing_repeated_and_swapped_lines_are_found() {
    let sound = small();
    let lines = split(&sound);
    let without_third = [&lines[..2], &lines[3..]].concat().concat();
    assert_eq!(
        only_damage(&without_third),
        [(3, Damage::Missing { lines: 1 })]
    );

    let mut repeated = lines.clone();
    repeated.insert(3, lines[2]);
    let out_of_order = |found, expected| Damage::OutOfOrder { found, expected };
    assert_eq!(only_damage(&repeated.concat()), [(4, out_of_order(3, 4))]);

    let mut swapped = lines.clone();
    swapped.swap(2, 3);
    assert_eq!(
        only_damage(&swapped.concat()),
        [(3, out_of_order(4, 3)), (5, Damage::Missing { lines: 1 })]
    );

    let mut two_headers = lines.clone();
    two_headers.insert(1, lines[0]);
    assert_eq!(
        only_damage(&two_headers.concat()),
        [(2, out_of_order(1, 2))]
    );
}

#[test]
fn a_damaged_line_is_not_also_told_as_missing() {
    let sound = small();
    let mut lines: Vec<Vec<u8>> = split(&sound).into_iter().map(<[u8]>::to_vec).collect();
    lines[2][20] ^= 1;
    lines[3].truncate(10);
    lines[3].push(b'\n');
    let damage = only_damage(&lines.concat());
    assert_eq!(damage.len(), 2);
    assert!(matches!(damage[0], (3, Damage::CheckValue { .. })));
    assert_eq!(damage[1], (4, Damage::NoCheckValue));
}

#[test]
fn lines_after_the_seal_are_not_taken() {
    let mut bytes = small();
    // The lines of another recording, as sound as they are, do not belong there.
    let mut other = Writer::begin(Vec::new(), &small_header()).unwrap();
    for i in 0..20 {
        other.packet(&packet(i, 7)).unwrap();
    }
    let other = other.seal().unwrap().0;
    let count = split(&bytes).len();
    bytes.extend(split(&other)[count]);
    let (lines, seal) = read(&bytes).unwrap();
    assert_eq!(lines.last().unwrap().outcome, Err(Damage::AfterSeal));
    assert!(matches!(seal, SealState::Holds { .. }));
}

#[test]
fn a_changed_line_with_a_new_check_value_breaks_the_seal() {
    let sound = small();
    let mut lines: Vec<Vec<u8>> = split(&sound).into_iter().map(<[u8]>::to_vec).collect();
    // The same line as another recording would have it: a pressure changed, check value and all.
    let mut other = Writer::begin(Vec::new(), &small_header()).unwrap();
    other.event(&event(5, Event::End)).unwrap();
    other.packet(&packet(0, 999_999)).unwrap();
    let other = other.seal().unwrap().0;
    lines[2] = split(&other)[2].to_vec();
    let (lines, seal) = read(&lines.concat()).unwrap();
    assert!(lines.iter().all(|line| line.outcome.is_ok()));
    assert!(matches!(seal, SealState::Broken { .. }));
}

#[test]
fn files_of_another_kind_are_told_apart() {
    let kind = |bytes: &[u8]| read(bytes).unwrap_err().to_string();
    assert!(kind(b"").contains("empty"));
    for foreign in [
        &b"%PDF-1.7\n"[..],
        b"time,pressure\n0,1\n",
        b"{\"format\":\"other\"}\n",
        &[0; 64],
    ] {
        assert!(kind(foreign).contains("not a recording"), "{foreign:?}");
    }
    let mut newer = small_header();
    newer.version = 3;
    let newer = Writer::begin(Vec::new(), &newer).unwrap().seal().unwrap().0;
    assert!(kind(&newer).contains("version 3"));
    let other_check = b"{\"format\":\"needlerest-session\",\"version\":3,\"sum\":9}\n";
    assert!(kind(other_check).contains("version 3"));
    let dos = String::from_utf8(small()).unwrap().replace('\n', "\r\n");
    assert!(kind(dos.as_bytes()).contains("CR LF"));
}

/// Reads a line without end, a piece at a time.
struct Endless(std::io::Cursor<Vec<u8>>, u64);

impl std::io::Read for Endless {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let read = self.0.read(into)?;
        if read > 0 || self.1 == 0 {
            return Ok(read);
        }
        let some = into.len().min(self.1 as usize);
        into[..some].fill(b'a');
        self.1 -= some as u64;
        Ok(some)
    }
}

#[test]
fn an_endless_line_costs_no_memory_and_ends_in_one_damaged_line() {
    let sound = small();
    let lines = split(&sound);
    let start = lines[..3].concat();
    let input = Endless(std::io::Cursor::new(start), 40 * limits::LINE as u64 + 7);
    let mut reader = Reader::new(std::io::BufReader::new(input)).unwrap();
    let read: Vec<Line> = reader.by_ref().map(Result::unwrap).collect();
    assert_eq!(read.len(), 3);
    assert_eq!(read[2].outcome, Err(Damage::TooLong));

    let long = vec![b'a'; 3 * limits::LINE];
    let bytes = [
        &lines[..3].concat()[..],
        &long,
        b"\n",
        &lines[4..].concat()[..],
    ]
    .concat();
    assert_eq!(only_damage(&bytes), [(4, Damage::TooLong)]);
}

#[test]
fn a_summary_counts_what_is_there_and_what_is_not() {
    let mut writer = Writer::begin(Vec::new(), &header()).unwrap();
    let run = super::made::every_event().remove(0);
    writer.event(&event(1_000, run)).unwrap();
    for i in 0..5 {
        writer.packet(&packet(2_000 + i, 101_325)).unwrap();
    }
    writer
        .event(&event(
            2_500_000,
            Event::Note {
                text: "a".to_owned(),
            },
        ))
        .unwrap();
    let mut bytes = writer.seal().unwrap().0;
    let sound = Summary::read(&mut Reader::new(bytes.as_slice()).unwrap()).unwrap();
    assert!(sound.is_sound());
    assert_eq!((sound.lines, sound.packets["stream"]), (9, 5));
    assert_eq!(sound.duration.s(), 2.5);
    assert_eq!(sound.runs[0].cylinder, "left");
    assert_eq!(sound.decoded.unwrap().samples, 5);
    assert_eq!(sound.notes, ["a"]);

    let third = bytes.iter().position(|b| *b == b'\n').unwrap() + 300;
    bytes[third] ^= 4;
    bytes.pop();
    let damaged = Summary::read(&mut Reader::new(bytes.as_slice()).unwrap()).unwrap();
    assert!(!damaged.is_sound());
    assert!(damaged.torn_tail);
    assert_eq!((damaged.damaged_lines, damaged.missing_lines), (2, 0));
    assert_eq!(damaged.seal, SealState::Missing);
}
