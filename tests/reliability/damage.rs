//! Random damage of a large recording: detected, pinpointed, the rest used; never a result that
//! is different without saying so.

use super::support::{Random, Tally, tape};
use needlerest::pipeline::{Analysis, Options, PlayError, analyse};
use needlerest::recording::{Reader, Record, SealState, recover};
use std::collections::BTreeSet;

/// Packets of the recording: two minutes, half a megabyte.
const PACKETS: usize = 6000;

/// A kind of damage done to a stretch of bytes.
fn spoil(bytes: &mut Vec<u8>, random: &mut Random) {
    let at = random.below(bytes.len() as u64) as usize;
    let order = random.below(14);
    let length = 1 + random.below(1 << order) as usize;
    let end = (at + length).min(bytes.len());
    match random.below(8) {
        0 => bytes[at] ^= 1 << random.below(8),
        1 => bytes[at..end].fill(0),
        2 => bytes[at..end]
            .iter_mut()
            .for_each(|byte| *byte = random.next() as u8),
        3 => _ = bytes.drain(at..end),
        4 => {
            let copy = bytes[at..end].to_vec();
            bytes.splice(at..at, copy);
        }
        5 => bytes.truncate(at.max(1)),
        6 => {
            let to = random.below(bytes.len() as u64) as usize;
            let length = length.min(bytes.len() - to.max(at));
            for offset in 0..length {
                bytes.swap(at + offset, to + offset);
            }
        }
        // A whole line that stands where it should not.
        _ => {
            let lines: Vec<Vec<u8>> = bytes
                .split_inclusive(|byte| *byte == b'\n')
                .map(<[u8]>::to_vec)
                .collect();
            let (from, to) = (
                random.below(lines.len() as u64),
                random.below(lines.len() as u64),
            );
            let mut lines = lines;
            let line = lines[from as usize].clone();
            lines[to as usize] = line;
            *bytes = lines.concat();
        }
    }
}

pub fn campaign(tries: u64) -> Tally {
    let mut tally = Tally::of("random damage");
    let (sound, _) = tape(PACKETS);
    let records: Vec<Record> = Reader::new(sound.as_slice())
        .expect("sound")
        .map(|line| line.expect("memory").outcome.expect("sound"))
        .collect();
    let findings = analyse(sound.as_slice(), Options::default()).expect("sound");
    for seed in 0..tries {
        let mut random = Random(seed);
        let mut bytes = sound.clone();
        for _ in 0..=random.below(4) {
            spoil(&mut bytes, &mut random);
        }
        tally.tries += 1;
        if let Err(why) = is_honest(&bytes, &sound, &records, &findings) {
            tally.wrong(format!("seed {seed}: {why}"));
        }
    }
    tally
}

fn is_honest(
    bytes: &[u8],
    sound: &[u8],
    records: &[Record],
    before: &Analysis,
) -> Result<(), String> {
    let header_length = sound.iter().position(|byte| *byte == b'\n').unwrap_or(0);
    let header_whole = bytes.get(..=header_length) == sound.get(..=header_length);
    let mut reader = match Reader::new(bytes) {
        Ok(_) if !header_whole => return Err("a damaged header was accepted".to_owned()),
        Ok(reader) => reader,
        Err(_) if !header_whole => return Ok(()),
        Err(error) => return Err(format!("refused, though the header is whole: {error}")),
    };
    // The lines that differ from every line of the original must be the ones told.
    let known: BTreeSet<&[u8]> = sound.split_inclusive(|byte| *byte == b'\n').collect();
    let lines = bytes.split_inclusive(|byte| *byte == b'\n').zip(1_u64..);
    let strange: BTreeSet<u64> = lines
        .filter(|(line, _)| !known.contains(line))
        .map(|(_, number)| number)
        .collect();
    let mut told = BTreeSet::new();
    let mut original = records.iter();
    for line in reader.by_ref() {
        let line = line.map_err(|error| error.to_string())?;
        match line.outcome {
            Err(_) => _ = told.insert(line.number),
            Ok(record) if original.any(|other| *other == record) => {}
            Ok(_) => return Err(format!("line {}: never recorded, or not here", line.number)),
        }
    }
    if let Some(missed) = strange.difference(&told).next() {
        return Err(format!("line {missed} is damaged and was not told"));
    }
    let holds = matches!(reader.seal(), SealState::Holds { .. });
    if bytes != sound && told.is_empty() && holds {
        return Err("damage was not found".to_owned());
    }
    match analyse(bytes, Options::default()) {
        Ok(after) => {
            let facts = &after.findings.recording;
            let silent = facts.damaged_lines == 0 && facts.seal_holds;
            if silent && after.findings != before.findings {
                return Err("another result, and nothing said".to_owned());
            }
            Ok(())
        }
        Err(PlayError::Io(error)) => Err(error.to_string()),
        Err(_) => Err("the undamaged rest is not used".to_owned()),
    }
}

/// A clean copy of a damaged recording holds exactly the records that were undamaged.
pub fn recovery(tries: u64) -> Tally {
    let mut tally = Tally::of("clean copy of a damaged recording");
    let (sound, _) = tape(PACKETS);
    for seed in 0..tries {
        let mut random = Random(seed ^ 0xC0FF_EE00);
        let mut bytes = sound.clone();
        for _ in 0..20 {
            spoil(&mut bytes, &mut random);
        }
        let Ok(reader) = Reader::new(bytes.as_slice()) else {
            continue;
        };
        tally.tries += 1;
        let good = |record: &Record| !matches!(record, Record::Header(_) | Record::Seal(_));
        let kept: Vec<Record> = reader
            .filter_map(|line| line.expect("memory").outcome.ok())
            .filter(good)
            .collect();
        let folder = tempfile::tempdir().expect("a folder");
        let copy = folder.path().join("copy.jsonl");
        let copied = recover(bytes.as_slice(), &copy).map(|_| std::fs::read(&copy));
        let Ok(Ok(copied)) = copied else {
            tally.wrong(format!("seed {seed}: no copy was made"));
            continue;
        };
        let mut reader = Reader::new(copied.as_slice()).expect("a clean copy");
        let again: Vec<Record> = reader
            .by_ref()
            .filter_map(|line| line.expect("memory").outcome.ok())
            .filter(good)
            .collect();
        let sealed = matches!(reader.seal(), SealState::Holds { .. });
        // The last one is the note that says what was left out.
        if again
            .split_last()
            .is_none_or(|(_, records)| records != kept)
            || !sealed
        {
            tally.wrong(format!("seed {seed}: the copy is not what was undamaged"));
        }
    }
    tally
}
