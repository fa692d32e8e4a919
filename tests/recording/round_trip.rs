//! What is written is what is read.

use super::made::{event, every_event, header, lines, packet, records};
use needlerest::recording::{Reader, Record, SealState, Writer};

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
