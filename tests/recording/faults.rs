//! A disk that fails, a process that dies, a machine that loses power: what is kept.

use super::made::{event, packet, records, small_header};
use needlerest::recording::{
    Damage, Event, Packet, Reader, Record, SYNC_AFTER_US, SealState, Sink, WriteError, Writer,
};
use std::cell::RefCell;
use std::io;
use std::rc::Rc;

/// A disk that keeps apart what was synced and what was only written.
#[derive(Debug, Default)]
struct Disk {
    bytes: Vec<u8>,
    synced: usize,
    /// Bytes that fit before it is full.
    room: Option<usize>,
    fail_sync: bool,
}

#[derive(Clone, Debug, Default)]
struct Shared(Rc<RefCell<Disk>>);

impl Sink for Shared {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        let mut disk = self.0.borrow_mut();
        let room = disk.room.unwrap_or(usize::MAX) - disk.bytes.len();
        let fits = bytes.len().min(room);
        disk.bytes.extend_from_slice(&bytes[..fits]);
        if fits < bytes.len() {
            return Err(io::ErrorKind::StorageFull.into());
        }
        Ok(())
    }
    fn sync(&mut self) -> io::Result<()> {
        let mut disk = self.0.borrow_mut();
        if disk.fail_sync {
            return Err(io::Error::other("the device is gone"));
        }
        disk.synced = disk.bytes.len();
        Ok(())
    }
}

/// A deterministic row of numbers (Steele, Lea and Flood's `SplitMix64`).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, bound: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ z >> 30).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ z >> 27).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ z >> 31) % bound
    }
}

/// Records packets until `stop_us`, syncing as a caller should that looks after each packet and
/// every 50 ms. Gives what was written.
fn record(disk: &Shared, numbers: &mut Numbers, stop_us: u64) -> Vec<Packet> {
    let mut writer = Writer::begin(disk.clone(), &small_header()).unwrap();
    let mut written = Vec::new();
    let (mut now, mut next_packet, mut next_look) = (0, 0, 0);
    while now < stop_us {
        if now == next_packet {
            written.push(packet(now, written.len() as u32));
            writer.packet(&written[written.len() - 1]).unwrap();
            // A sensor of 50 packets a second, with pauses.
            let pause = if numbers.below(20) == 0 { 400_000 } else { 0 };
            next_packet = now + 1 + numbers.below(40_000) + pause;
        }
        if now == next_look {
            next_look = now + 50_000;
        }
        if writer.needs_sync(now) {
            writer.sync().unwrap();
        }
        now = next_packet.min(next_look);
    }
    written
}

/// Kept packets are the first ones written; gives the time that the first missing one came.
fn first_missing(bytes: &[u8], written: &[Packet]) -> Option<u64> {
    let kept: Vec<Packet> = records(bytes)
        .into_iter()
        .filter_map(|record| match record {
            Record::Packet(packet) => Some(packet),
            _ => None,
        })
        .collect();
    assert_eq!(
        kept,
        written[..kept.len()],
        "never anything but what was written"
    );
    written.get(kept.len()).map(|packet| packet.t_us)
}

#[test]
fn a_power_cut_loses_at_most_the_last_250_ms() {
    const { assert!(SYNC_AFTER_US + 50_000 <= 250_000) };
    let mut numbers = Numbers(1);
    let mut lost_some = 0;
    for _ in 0..500 {
        let disk = Shared::default();
        let stop_us = 1 + numbers.below(3_000_000);
        let written = record(&disk, &mut numbers, stop_us);
        let mut disk = disk.0.borrow_mut();
        // Of what was not synced, any part may have reached the disk, and the part after it may
        // hold zeros: file systems allot space before they fill it.
        let unsynced = (disk.bytes.len() - disk.synced) as u64;
        let torn = disk.synced + numbers.below(unsynced + 1) as usize;
        if numbers.below(2) == 0 {
            disk.bytes[torn..].fill(0);
        } else {
            disk.bytes.truncate(torn);
        }
        if let Some(missing) = first_missing(&disk.bytes, &written) {
            assert!(stop_us - missing <= 250_000, "{missing} of {stop_us}");
            lost_some += 1;
        }
    }
    assert!(lost_some > 100, "the test does lose packets: {lost_some}");
}

#[test]
fn the_end_of_the_process_loses_nothing_but_the_line_being_written() {
    let mut numbers = Numbers(2);
    for _ in 0..200 {
        let disk = Shared::default();
        let stop_us = 1 + numbers.below(1_000_000);
        let written = record(&disk, &mut numbers, stop_us);
        let bytes = disk.0.borrow().bytes.clone();
        assert_eq!(first_missing(&bytes, &written), None);
        // Cut within the last line: only that one is missing.
        let last_line = bytes[..bytes.len() - 1]
            .iter()
            .rposition(|b| *b == b'\n')
            .unwrap()
            + 1;
        let cut = last_line + numbers.below((bytes.len() - last_line) as u64) as usize;
        let missing = first_missing(&bytes[..cut], &written);
        assert_eq!(missing, written.last().map(|packet| packet.t_us));
    }
}

#[test]
fn a_full_disk_is_told_at_once_and_what_fitted_is_kept() {
    let whole = super::made::small().len();
    for room in 0..whole {
        let disk = Shared::default();
        disk.0.borrow_mut().room = Some(room);
        let mut told = false;
        let mut writer = match Writer::begin(disk.clone(), &small_header()) {
            Ok(writer) => writer,
            Err(error) => {
                assert!(matches!(error, WriteError::Io(_)));
                continue;
            }
        };
        let mut written = Vec::new();
        for i in 0..20 {
            match writer.packet(&packet(i, 9)) {
                Ok(()) => written.push(packet(i, 9)),
                Err(WriteError::Io(_)) if !told => told = true,
                Err(error) => assert!(told && matches!(error, WriteError::Poisoned)),
            }
        }
        assert!(told);
        assert!(matches!(writer.sync(), Err(WriteError::Poisoned)));
        assert!(matches!(writer.seal(), Err(WriteError::Poisoned)));
        let bytes = disk.0.borrow().bytes.clone();
        assert_eq!(first_missing(&bytes, &written), None);
    }
}

#[test]
fn a_failed_sync_is_told_and_ends_writing() {
    let disk = Shared::default();
    let mut writer = Writer::begin(disk.clone(), &small_header()).unwrap();
    writer.event(&event(3, Event::End)).unwrap();
    assert!(writer.needs_sync(3), "an event is not to wait");
    disk.0.borrow_mut().fail_sync = true;
    assert!(matches!(writer.sync(), Err(WriteError::Io(_))));
    assert!(matches!(
        writer.packet(&packet(4, 0)),
        Err(WriteError::Poisoned)
    ));
}

#[test]
fn what_is_too_long_is_refused_and_nothing_of_it_written() {
    let mut writer = Writer::begin(Vec::new(), &small_header()).unwrap();
    let long = Packet {
        hex: vec![0; 513],
        ..packet(0, 0)
    };
    assert!(matches!(writer.packet(&long), Err(WriteError::TooLong(_))));
    let note = Event::Note {
        text: "x".repeat(20_000),
    };
    assert!(matches!(
        writer.event(&event(0, note)),
        Err(WriteError::TooLong(_))
    ));
    writer.packet(&packet(0, 0)).unwrap();
    assert_eq!(records(&writer.seal().unwrap().0).len(), 2);
}

#[test]
fn an_existing_file_is_never_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("session.jsonl");
    std::fs::write(&path, "precious").unwrap();
    assert!(matches!(
        Writer::create(&path, &small_header()),
        Err(WriteError::Exists)
    ));
    assert_eq!(std::fs::read_to_string(&path).unwrap(), "precious");
}

#[cfg(unix)]
#[test]
fn a_file_deleted_underneath_is_told_at_the_next_sync() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("session.jsonl");
    let mut writer = Writer::create(&path, &small_header()).unwrap();
    writer.packet(&packet(0, 0)).unwrap();
    writer.sync().unwrap();
    std::fs::remove_file(&path).unwrap();
    writer.packet(&packet(1, 0)).unwrap();
    let error = writer.sync().unwrap_err();
    assert!(error.to_string().contains("deleted"), "{error}");
}

#[test]
fn a_stopped_session_goes_on_whatever_state_it_was_left_in() {
    let folder = tempfile::tempdir().unwrap();
    let mut writer = Writer::begin(Vec::new(), &small_header()).unwrap();
    writer.packet(&packet(100, 1)).unwrap();
    writer.packet(&packet(200, 2)).unwrap();
    let sealed = writer.seal().unwrap().0;
    let seal_line = sealed[..sealed.len() - 1]
        .iter()
        .rposition(|b| *b == b'\n')
        .unwrap()
        + 1;
    let cases = [
        ("sealed", sealed.len(), 0, 200),
        ("open", seal_line, 0, 200),
        ("torn", seal_line - 5, 1, 100),
    ];
    for (name, length, damaged, last) in cases {
        let path = folder.path().join(name);
        std::fs::write(&path, &sealed[..length]).unwrap();
        let (mut writer, last_us) = Writer::resume(&path, "2026-05-10T07:00:00Z").unwrap();
        assert_eq!(last_us, last, "{name}");
        assert!(
            matches!(Writer::resume(&path, ""), Err(WriteError::Io(_))),
            "{name}: two programs cannot write the same file"
        );
        writer.packet(&packet(300, 3)).unwrap();
        writer.seal().unwrap();
        let bytes = std::fs::read(&path).unwrap();
        assert!(
            bytes.starts_with(&sealed[..length]),
            "{name}: only appended"
        );
        let mut reader = Reader::new(bytes.as_slice()).unwrap();
        let damage: Vec<Damage> = reader
            .by_ref()
            .filter_map(|line| line.unwrap().outcome.err())
            .collect();
        assert_eq!(damage.len(), damaged, "{name}: {damage:?}");
        assert!(matches!(reader.seal(), SealState::Holds { .. }), "{name}");
        let resumed = records(&bytes).into_iter().any(|record| {
            matches!(record, Record::Event(event) if matches!(event.event, Event::Resumed { .. }))
        });
        assert!(resumed, "{name}");
    }
}

/// Somebody else cuts the file short while it is written: every write still succeeds, and what was
/// there is gone. It is told at the next sync, by the file and in the background.
#[test]
fn a_file_cut_short_from_outside_is_told() {
    let folder = tempfile::tempdir().unwrap();
    for (background, left) in [(false, 0), (false, 100), (true, 0), (true, 300)] {
        let path = folder.path().join(format!("{background}-{left}.jsonl"));
        let mut writer = Writer::create(&path, &small_header()).unwrap();
        for n in 0..20 {
            writer.packet(&packet(n, 7)).unwrap();
        }
        writer.sync().unwrap();
        let other = std::fs::OpenOptions::new().write(true).open(&path).unwrap();
        other.set_len(left).unwrap();
        let told = if background {
            let mut writer = writer.into_background().unwrap();
            writer.packet(&packet(21, 7)).unwrap();
            writer.seal().unwrap_err()
        } else {
            writer.packet(&packet(21, 7)).unwrap();
            let told = writer.sync().unwrap_err();
            assert!(matches!(writer.sync(), Err(WriteError::Poisoned)));
            told
        };
        assert!(
            told.to_string().contains("cut short from outside"),
            "{told}"
        );
        // No hole: what was appended stands at the end of what is left.
        let bytes = std::fs::read(&path).unwrap();
        assert!(!bytes.contains(&0), "{background} {left}");
    }
}

/// A file that is resumed counts from what it has.
#[test]
fn a_file_that_is_gone_on_with_is_looked_after_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("on.jsonl");
    Writer::create(&path, &small_header())
        .unwrap()
        .seal()
        .unwrap();
    let (mut writer, _) = Writer::resume(&path, "2026-05-09T09:00:00Z").unwrap();
    writer.packet(&packet(1, 7)).unwrap();
    writer.sync().unwrap();
    let other = std::fs::OpenOptions::new().write(true).open(&path).unwrap();
    other.set_len(10).unwrap();
    assert!(writer.sync().is_err());
}

/// Host times count on from the last record, whether it is a packet or an event.
#[test]
fn a_resumed_recording_counts_on_from_its_last_record() {
    let folder = tempfile::tempdir().unwrap();
    for (name, packet_us, event_us) in [("event", 1_000, 5_000), ("packet", 7_000, 2_000)] {
        let path = folder.path().join(name);
        let mut writer = Writer::begin(Vec::new(), &small_header()).unwrap();
        let (first, second) = (event(event_us, Event::End), packet(packet_us, 1));
        writer.event(&first).unwrap();
        writer.packet(&second).unwrap();
        std::fs::write(&path, writer.seal().unwrap().0).unwrap();
        let (_, last_us) = Writer::resume(&path, "2026-05-10T07:00:00Z").unwrap();
        assert_eq!(last_us, event_us.max(packet_us), "{name}");
    }
}

/// What is as long as may be is recorded, one byte more is refused, with what and by how much.
#[test]
fn the_longest_name_is_recorded_and_a_longer_one_refused() {
    let most = needlerest::recording::limits::NAME;
    let named = |length: usize| {
        let mut writer = Writer::begin(Vec::new(), &small_header()).unwrap();
        writer.event(&event(
            0,
            Event::Run {
                cylinder: "n".repeat(length),
                condition: needlerest::engine::Condition::ColdDry,
            },
        ))
    };
    assert!(named(most).is_ok());
    let told = named(most + 1).unwrap_err().to_string();
    assert!(
        told.contains("cylinder name") && told.contains(&most.to_string()),
        "{told}"
    );
}
