use needlerest::pipeline::{Options, analyse};
use needlerest::recording::{Reader, Record, SealState, Summary, Writer};
use std::io::BufReader;

const CRC: crc::Crc<u32> = crc::Crc::<u32>::new(&crc::CRC_32_ISO_HDLC);

/// Any file: it is refused with a clear error, or read to its end in as many lines as it has; what
/// was read can be written and reads the same again; the same bytes in other pieces read the same.
///
/// A first byte `~` asks for right numbers and check values on each line, which nobody would find
/// by chance.
pub fn recording_reader(data: &[u8]) {
    let numbered;
    let data = match data.split_first() {
        Some((b'~', lines)) => {
            numbered = number(lines);
            &numbered
        }
        _ => data,
    };
    let Ok(mut reader) = Reader::new(data) else {
        return;
    };
    let lines: Vec<_> = reader
        .by_ref()
        .map(|line| line.expect("memory can be read"))
        .collect();
    let ends = data.split(|byte| *byte == b'\n').count() as u64;
    assert!(reader.lines() <= ends);
    assert!(lines.iter().all(|line| (2..=ends).contains(&line.number)));
    let sound = lines.iter().all(|line| line.outcome.is_ok());
    let holds = matches!(reader.seal(), SealState::Holds { .. });

    let mut dribble = Reader::new(BufReader::with_capacity(7, data)).expect("as before");
    assert!(
        dribble
            .by_ref()
            .map(|line| line.expect("as before"))
            .eq(lines.iter().cloned())
    );
    assert_eq!(dribble.seal(), reader.seal());

    let mut again = Writer::begin(Vec::new(), reader.header()).expect("what was read fits");
    for line in &lines {
        match &line.outcome {
            Ok(Record::Packet(packet)) => again.packet(packet).expect("what was read fits"),
            Ok(Record::Event(event)) => again.event(event).expect("what was read fits"),
            _ => {}
        }
    }
    let (copy, _) = again.seal().expect("memory can be written");
    let kept = |record: &Record| matches!(record, Record::Packet(_) | Record::Event(_));
    let mut reread = Reader::new(copy.as_slice()).expect("just written");
    let records = reread
        .by_ref()
        .map(|line| line.expect("memory").outcome.expect("sound"));
    let before = lines.into_iter().filter_map(|line| line.outcome.ok());
    assert!(records.filter(kept).eq(before.filter(kept)));
    assert!(matches!(reread.seal(), SealState::Holds { .. }));

    let summary = Summary::read(&mut Reader::new(data).expect("as before")).expect("memory");
    assert_eq!(
        summary.is_sound(),
        sound && !matches!(summary.seal, SealState::Broken { .. })
    );
    if let Ok(analysis) = analyse(data, Options::default()) {
        assert_eq!(analysis.findings.recording.seal_holds, holds);
        let facts = &analysis.findings.recording;
        assert_eq!(facts.damaged_lines == 0 && facts.missing_lines == 0, sound);
        super::findings::are_sane(&analysis.findings);
    }
}

/// Puts its number and its check value to the end of each line.
fn number(lines: &[u8]) -> Vec<u8> {
    let mut out = Vec::new();
    for (at, line) in lines.split(|byte| *byte == b'\n').enumerate() {
        let start = out.len();
        out.extend_from_slice(line.strip_suffix(b"}").unwrap_or(line));
        out.extend_from_slice(format!(",\"n\":{}", at + 1).as_bytes());
        let check = CRC.checksum(&out[start..]);
        out.extend_from_slice(format!(",\"crc\":\"{check:08x}\"}}\n").as_bytes());
    }
    out
}
