//! Files of every version of the format that was ever released open for ever.

use super::made::records;
use needlerest::engine::Condition;
use needlerest::protocol::{Decoder, ProtocolFile};
use needlerest::recording::{Event, Reader, Record, SealState, TimedEvent};
use needlerest::units::Time;

/// Recorded by version 0.1.0; never to be changed.
const SESSION_V1: &[u8] = include_bytes!("../../fixtures/recording/v1/session.jsonl");
/// Protocol file of version 1, with every kind of entry; never to be changed.
const PROTOCOL_V1: &str = include_str!("../../fixtures/recording/v1/protocol.toml");
const SPECIFICATION: &str = include_str!("../../protocol/session-file.md");

#[test]
fn a_recording_of_version_1_opens_and_decodes_to_the_same_samples() {
    let mut reader = Reader::new(SESSION_V1).unwrap();
    assert_eq!(reader.header().version, 1);
    assert_eq!(reader.header().started, "2026-05-09T08:30:00Z");
    let file = ProtocolFile::parse(&reader.header().protocol).unwrap();
    let mut decoder = Decoder::new(&file);
    let mut samples = Vec::new();
    let mut events = Vec::new();
    for line in reader.by_ref() {
        match line.unwrap().outcome.unwrap() {
            Record::Packet(packet) => {
                let at = Time::from_us(packet.t_us);
                decoder.accept(&packet.from, at, &packet.hex, &mut samples);
            }
            Record::Event(event) => {
                if event.event == Event::LinkLost {
                    decoder.link_lost(&mut samples);
                }
                events.push(event);
            }
            Record::Header(_) | Record::Seal(_) => {}
        }
    }
    let digest = "70d38914c0f95cff3e19d5865b2fe1bed6d7eb62355f7007c8bbc38e8957eb54";
    assert_eq!(
        reader.seal(),
        &SealState::Holds {
            sha256: digest.to_owned()
        }
    );
    let pascals: Vec<f64> = samples.iter().map(|sample| sample.pressure.pa()).collect();
    assert_eq!(
        pascals,
        [0.0, 250_000.0, 600_000.0, 900_000.0, 1_000_000.0, -2_000.0]
    );
    let times: Vec<f64> = samples.iter().map(|sample| sample.time.s()).collect();
    assert_eq!(times, [0.0, 0.002, 0.004, 0.006, 0.008, 1.0]);
    assert_eq!(decoder.battery(), Some(86.0));
    assert_eq!(events.len(), 12);
    let (cylinder, condition) = ("left".to_owned(), Condition::WarmDry);
    let run = Event::Run {
        cylinder,
        condition,
    };
    assert_eq!(
        events[0],
        TimedEvent {
            t_us: 0,
            event: run
        }
    );
}

#[test]
fn a_protocol_file_of_version_1_opens() {
    let file = ProtocolFile::parse(PROTOCOL_V1).unwrap();
    assert_eq!(file.name(), "Every entry there is");
    assert_eq!(file.spec().readings.len(), 2);
}

#[test]
fn the_example_of_the_specification_is_whole() {
    let example = SPECIFICATION.split("```jsonl\n").nth(1).unwrap();
    let example = example.split("```").next().unwrap().as_bytes();
    assert_eq!(records(example).len(), 3);
    let mut reader = Reader::new(example).unwrap();
    assert!(reader.by_ref().all(|line| line.unwrap().outcome.is_ok()));
    assert!(matches!(reader.seal(), SealState::Holds { .. }));
}
