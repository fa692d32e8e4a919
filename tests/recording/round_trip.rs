//! What is written is what is read.

use super::made::{event, every_event, header, lines, packet, records};
use needlerest::recording::{
    CORRECTED_VERSION, Header, OpenError, Reader, Record, SealState, Writer,
};

#[test]
fn every_kind_of_record_comes_back() {
    let mut writer = Writer::begin(Vec::new(), &header()).unwrap();
    let mut written = Vec::new();
    for (i, one) in every_event().into_iter().enumerate() {
        let one = event(i as u64, one);
        writer.event(&one).unwrap();
        writer.packet(&packet(i as u64, 101_325)).unwrap();
        written.extend([
            Record::Event(one),
            Record::Packet(packet(i as u64, 101_325)),
        ]);
    }
    let (bytes, seal) = writer.seal().unwrap();
    written.push(Record::Seal(seal.clone()));
    assert_eq!(records(&bytes), written);
    assert!(lines(&bytes).iter().all(|line| line.outcome.is_ok()));
    let mut reader = Reader::new(bytes.as_slice()).unwrap();
    assert_eq!(reader.header(), &header());
    reader.by_ref().for_each(drop);
    assert_eq!(
        reader.seal(),
        &SealState::Holds {
            sha256: seal.sha256
        }
    );
}

/// Version 2 is read as version 1 is; of a newer one it is said which it is.
#[test]
fn the_second_version_is_read_and_a_third_is_not() {
    let of_version = |version: u32| {
        let header = Header {
            version,
            ..header()
        };
        let mut writer = Writer::begin(Vec::new(), &header).unwrap();
        writer.packet(&packet(1, 101_325)).unwrap();
        writer.seal().unwrap().0
    };
    let second = of_version(CORRECTED_VERSION);
    let reader = Reader::new(second.as_slice()).unwrap();
    assert_eq!(reader.header().version, CORRECTED_VERSION);
    assert_eq!(records(&second).len(), 2);
    let refused = Reader::new(of_version(CORRECTED_VERSION + 1).as_slice()).err();
    assert!(
        matches!(refused, Some(OpenError::Newer { found: 3 })),
        "{refused:?}"
    );
}
