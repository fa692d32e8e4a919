//! Loss of power, in simulated time: of what was not synced, every page of the disk by itself may
//! have been written, may hold zeros, or may be missing.

use super::support::{Random, Tally, header, packets};
use needlerest::recording::{Packet, Reader, Record, Sink, Writer};
use std::cell::RefCell;
use std::io;
use std::rc::Rc;

const PAGE: usize = 4096;
/// Longest that a caller lets pass before it looks whether to sync, in microseconds.
const LOOK_US: u64 = 50_000;

#[derive(Clone, Default)]
struct Disk(Rc<RefCell<(Vec<u8>, usize)>>);

impl Sink for Disk {
    fn append(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.0.borrow_mut().0.extend_from_slice(bytes);
        Ok(())
    }
    fn sync(&mut self) -> io::Result<()> {
        let mut disk = self.0.borrow_mut();
        disk.1 = disk.0.len();
        Ok(())
    }
}

pub fn campaign(tries: u64) -> Tally {
    let mut tally = Tally::of("power cut (simulated disk)");
    for seed in 0..tries {
        one(seed, &mut tally);
    }
    tally
}

fn one(seed: u64, tally: &mut Tally) {
    let mut random = Random(seed);
    // From a slow sensor to one of two hundred packets a second.
    let samples = 1 + random.below(10) as usize;
    let disk = Disk::default();
    let mut writer = Writer::begin(disk.clone(), &header()).expect("a disk that works");
    let stop_us = random.below(3_000_000);
    let mut received = Vec::new();
    let mut looked_us = 0;
    for packet in packets(1000.0, samples) {
        // The caller looks at every fifty milliseconds, sooner or later.
        while looked_us + LOOK_US <= packet.t_us.min(stop_us) {
            looked_us += LOOK_US;
            if writer.needs_sync(looked_us) {
                writer.sync().expect("a disk that works");
            }
        }
        if packet.t_us > stop_us {
            break;
        }
        writer.packet(&packet).expect("a disk that works");
        received.push(packet);
    }
    let (bytes, synced) = disk.0.borrow().clone();
    let bytes = torn(bytes, synced, &mut random);
    compare(&bytes, &received, stop_us, seed, tally);
}

/// What is found on the disk when the power is back.
fn torn(mut bytes: Vec<u8>, synced: usize, random: &mut Random) -> Vec<u8> {
    let end = synced + random.below((bytes.len() - synced) as u64 + 1) as usize;
    bytes.truncate(end);
    let mut from = synced;
    while from < bytes.len() {
        let to = ((from / PAGE + 1) * PAGE).min(bytes.len());
        if random.below(3) == 0 {
            bytes[from..to].fill(0);
        }
        from = to;
    }
    bytes
}

/// Everything that is read must be what was received; what is missing must be of the last moment.
fn compare(bytes: &[u8], received: &[Packet], stop_us: u64, seed: u64, tally: &mut Tally) {
    tally.tries += 1;
    let reader = match Reader::new(bytes) {
        Ok(reader) => reader,
        Err(error) => return tally.wrong(format!("seed {seed}: {error}")),
    };
    let mut rest = received.iter();
    let mut first_missing = None;
    let mut kept = 0;
    for line in reader {
        let Ok(Record::Packet(packet)) = line.expect("memory can be read").outcome else {
            continue;
        };
        kept += 1;
        // A page that was spoilt leaves a gap, and what comes after it may still be whole.
        match rest.by_ref().position(|other| *other == packet) {
            None => return tally.wrong(format!("seed {seed}: not what was received")),
            Some(0) => {}
            Some(_) => _ = first_missing.get_or_insert(kept - 1),
        }
    }
    let first_missing = first_missing.unwrap_or(kept);
    if let Some(packet) = received.get(first_missing) {
        tally.lost += (received.len() - kept) as u64;
        tally.lost_us = tally.lost_us.max(stop_us - packet.t_us);
    }
}
