//! Writing in the background: the disk may take its time or fail, and nobody waits for it.

use super::made::{packet, records, small_header};
use needlerest::recording::{BackgroundSink, Sink, StallWatch, Writer};
use std::io;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// What reached the disk, and how much of it was synced.
#[derive(Clone, Default)]
struct Disk(Arc<Mutex<(Vec<u8>, usize)>>);

impl Disk {
    fn append(&self, bytes: &[u8]) {
        self.0.lock().unwrap().0.extend_from_slice(bytes);
    }
    fn sync(&self) {
        let mut disk = self.0.lock().unwrap();
        disk.1 = disk.0.len();
    }
    fn bytes(&self) -> Vec<u8> {
        self.0.lock().unwrap().0.clone()
    }
}

/// A disk whose every sync waits until the test lets it.
fn slow_to_sync() -> (BackgroundSink, Disk, Sender<()>, Receiver<()>) {
    let disk = Disk::default();
    let (let_go, held) = channel();
    let (begun, has_begun) = channel();
    let (appends, syncs) = (disk.clone(), disk.clone());
    let sink = BackgroundSink::start(
        move |bytes| {
            appends.append(bytes);
            Ok(())
        },
        move || {
            begun.send(()).unwrap();
            held.recv().unwrap();
            syncs.sync();
            Ok(())
        },
    );
    (sink.unwrap(), disk, let_go, has_begun)
}

#[test]
fn a_sync_that_takes_long_holds_up_no_append() {
    let (mut sink, disk, let_go, has_begun) = slow_to_sync();
    sink.append(b"one").unwrap();
    sink.sync().unwrap();
    has_begun.recv().unwrap();
    sink.append(b"two").unwrap();
    while disk.bytes() != b"onetwo" {
        std::thread::yield_now();
    }
    assert!(sink.behind() > Duration::ZERO, "a sync is under way");
    for _ in 0..10 {
        sink.sync().unwrap();
    }
    for _ in 0..11 {
        let_go.send(()).unwrap();
    }
    sink.settle().unwrap();
    assert_eq!(sink.behind(), Duration::ZERO);
    assert_eq!(disk.0.lock().unwrap().1, 6, "all of it was synced");
}

#[test]
fn what_was_handed_over_is_in_the_file_when_the_recording_is_sealed() {
    let disk = Disk::default();
    let (appends, syncs) = (disk.clone(), disk.clone());
    let append = move |bytes: &[u8]| {
        std::thread::sleep(Duration::from_micros(200));
        appends.append(bytes);
        Ok(())
    };
    let sync = move || {
        syncs.sync();
        Ok(())
    };
    let sink = BackgroundSink::start(append, sync).unwrap();
    let mut writer = Writer::begin(sink, &small_header()).unwrap();
    for i in 0..200 {
        writer.packet(&packet(i, i as u32)).unwrap();
        if writer.needs_sync(i * 10_000) {
            writer.sync().unwrap();
        }
    }
    let (_, seal) = writer.seal().unwrap();
    assert_eq!(seal.lines, 201);
    assert_eq!(records(&disk.bytes()).len(), 201, "packets and seal");
    let (bytes, synced) = disk.0.lock().unwrap().clone();
    assert_eq!(synced, bytes.len());
}

#[test]
fn a_failure_in_the_background_comes_with_a_later_call_and_nothing_follows_it() {
    let disk = Disk::default();
    let appends = disk.clone();
    let append = move |bytes: &[u8]| {
        if appends.bytes().len() + bytes.len() > 10 {
            return Err(io::Error::from_raw_os_error(28));
        }
        appends.append(bytes);
        Ok(())
    };
    let mut sink = BackgroundSink::start(append, || Ok(())).unwrap();
    sink.append(b"12345678").unwrap();
    sink.settle().unwrap();
    sink.append(b"too long").unwrap();
    // Short enough to fit, but it would stand behind a hole.
    let _ = sink.append(b"x");
    let error = sink.settle().unwrap_err();
    assert_eq!(error.kind(), io::ErrorKind::StorageFull);
    assert!(sink.append(b"y").is_err() && sink.sync().is_err());
    assert_eq!(disk.bytes(), b"12345678");
}

#[test]
fn a_failed_sync_is_told_too() {
    let refuse = || Err(io::Error::other("the device is gone"));
    let sink = BackgroundSink::start(|_| Ok(()), refuse).unwrap();
    let mut writer = Writer::begin(sink, &small_header()).unwrap();
    while writer.packet(&packet(0, 0)).is_ok() {
        std::thread::yield_now();
    }
    let error = writer.seal().unwrap_err();
    assert!(error.to_string().contains("failed before"), "{error}");
}

/// Whoever waits for the end never takes a failure for a success, however the threads fall: the
/// last append or sync fails, and there is no later call that it could come with.
#[test]
fn a_failure_of_the_last_of_all_is_told_by_whoever_waits_for_the_end() {
    let refuse = || io::Result::Err(io::Error::other("the device is gone"));
    for _ in 0..2000 {
        let mut syncs = BackgroundSink::start(|_| Ok(()), refuse).unwrap();
        syncs.sync().unwrap();
        assert!(syncs.settle().is_err());
        let mut appends = BackgroundSink::start(move |_| refuse(), || Ok(())).unwrap();
        appends.append(b"one").unwrap();
        assert!(appends.settle().is_err());
    }
}

#[test]
fn a_disk_that_stops_answering_is_told_once_and_so_is_its_return() {
    let mut watch = StallWatch::default();
    let ms = Duration::from_millis;
    assert_eq!(watch.look(ms(300)), None);
    assert!(!watch.is_stalled());
    assert!(
        watch
            .look(ms(800))
            .is_some_and(|words| words.contains("does not answer"))
    );
    assert!(watch.is_stalled());
    assert_eq!(watch.look(ms(900)), None);
    assert!(
        watch
            .look(ms(0))
            .is_some_and(|words| words.contains("answers again"))
    );
    assert!(!watch.is_stalled());
    assert_eq!(watch.look(ms(0)), None);
}

/// What came after the thread that syncs ended is not on the disk for certain: whoever records is told
/// at the next sync, not after the long wait for a disk that does not answer.
#[test]
fn that_the_thread_which_syncs_has_ended_is_told() {
    let mut sink = BackgroundSink::start(|_| Ok(()), || panic!("a fault in the driver")).unwrap();
    let told = (0..1_000_000).find_map(|_| {
        std::thread::yield_now();
        sink.sync().err()
    });
    assert!(told.is_some_and(|error| error.to_string().contains("thread that syncs has ended")));
}

/// A sink that is let go without an end gives what was handed over a moment to reach the file.
#[test]
fn what_was_handed_over_reaches_the_file_when_the_sink_is_let_go() {
    let disk = Disk::default();
    let appends = disk.clone();
    let append = move |bytes: &[u8]| {
        std::thread::sleep(Duration::from_millis(5));
        appends.append(bytes);
        Ok(())
    };
    let mut sink = BackgroundSink::start(append, || Ok(())).unwrap();
    for _ in 0..10 {
        sink.append(b"one").unwrap();
    }
    drop(sink);
    assert_eq!(disk.bytes().len(), 30);
}
